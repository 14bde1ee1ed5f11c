//! What jobs take, told rather than learned: a plan that knew it, to hold learned ones against.

use std::collections::HashMap;

use capful_domain::Id;
use ndarray::Array2;

use crate::learn::index::Index;
use crate::learn::usage::{ProductUsage, SHARED, Share, UsageModel, ln_centres, places_in_product};

/// What one job type takes of one product.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenUsage {
    /// The job type.
    pub job_type: Id,
    /// The product.
    pub product: Id,
    /// What a job that uses it takes at medium size and condition 3, in base units of product as
    /// bought.
    pub mean: f64,
    /// How often it is used at all, 0 to 1.
    pub share: f64,
    /// Coefficient of variation from job to job.
    pub cv: f64,
    /// Exponent on the shop's size factors.
    pub size_exponent: f64,
    /// Exponent on the shop's condition factors.
    pub condition_exponent: f64,
}

impl UsageModel {
    /// Knows what it is told, and nothing is unsure of it. A pair of which nothing is told is as
    /// the sheet says.
    pub fn told(index: &Index, told: &[GivenUsage]) -> Self {
        let local = places_in_product(index);
        let told: HashMap<(usize, usize), &GivenUsage> = told
            .iter()
            .filter_map(|one| {
                let product = index.product_place(&one.product)?;
                Some(((product, index.type_place(&one.job_type)?), one))
            })
            .collect();
        let products = index.pairs_of_product.iter().map(|pairs| of_product(index, pairs, &told));
        Self { products: products.collect(), local, ln_centre: ln_centres(index) }
    }
}

fn of_product(
    index: &Index,
    pairs: &[usize],
    told: &HashMap<(usize, usize), &GivenUsage>,
) -> ProductUsage {
    let mut b = vec![0.0; SHARED + pairs.len()];
    let mut shares = Vec::with_capacity(pairs.len());
    let mut dispersion = 0.0;
    for (place, pair) in pairs.iter().map(|pair| &index.pairs[*pair]).enumerate() {
        let own = told.get(&(pair.product, pair.job_type));
        shares.push(Share::known(own.map_or(pair.share, |own| own.share)));
        let Some(own) = own else { continue };
        b[1] = own.size_exponent - 1.0;
        b[2] = own.condition_exponent - 1.0;
        b[SHARED + place] = (own.mean.max(1e-9) / pair.centre.max(1e-9)).ln();
        dispersion = own.cv.powi(2);
    }
    let nothing = || Array2::zeros((b.len(), b.len()));
    let (covariance, factor) = (nothing(), nothing());
    ProductUsage { b, covariance, factor, dispersion, shares, odd: Vec::new() }
}
