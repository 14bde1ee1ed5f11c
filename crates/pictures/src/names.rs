//! What a shop calls its products and job types, and the units it reads.

use std::collections::HashMap;

use capful_domain::{Facts, UnitSystem};

/// The names that stand in a picture.
#[derive(Debug, Clone)]
pub struct Names {
    pub(crate) units: UnitSystem,
    /// Name and unit of each product.
    products: HashMap<String, (String, &'static str)>,
    job_types: HashMap<String, String>,
}

impl Names {
    /// Those of a shop.
    #[must_use]
    pub fn of(facts: &Facts) -> Self {
        let named = |own: &capful_domain::Product| {
            (own.id.to_string(), (own.name.clone(), own.unit.symbol()))
        };
        let products = facts.products.iter().map(named);
        let types = facts.job_types.iter().map(|own| (own.id.to_string(), own.name.clone()));
        Self { units: facts.shop.units, products: products.collect(), job_types: types.collect() }
    }

    /// A product's name, else its id.
    pub(crate) fn product<'a>(&'a self, id: &'a str) -> &'a str {
        self.products.get(id).map_or(id, |(name, _)| name)
    }

    /// The unit that a plan shows a product in.
    pub(crate) fn unit_of(&self, id: &str) -> &'static str {
        self.products.get(id).map_or("each", |(_, unit)| unit)
    }

    /// A job type's name, else its id.
    pub(crate) fn job_type<'a>(&'a self, id: &'a str) -> &'a str {
        self.job_types.get(id).map_or(id, String::as_str)
    }
}
