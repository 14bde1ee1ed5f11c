//! Products.

use capful_domain::{Amount, Form, Id, Product};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// What is bought again under one rule, as it is from now on.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ProductBody {
    /// The id in the address, or nothing.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// The name on the shelf.
    #[schema(example = "Iron remover, 5 L", value_type = schema::Line)]
    pub name: String,
    /// The unit of its quantities.
    #[schema(example = "mL", value_type = schema::UnitWord)]
    pub unit: String,
    /// What a full container holds, in `unit`.
    #[schema(value_type = schema::Positive)]
    pub container_size: Number,
    /// A word to group by.
    #[schema(value_type = Option<schema::Line>)]
    pub category: Option<String>,
    /// `ready` or `concentrate`; without it: `ready`.
    #[schema(value_type = Option<schema::FormWord>)]
    pub form: Option<String>,
    /// Life sealed, in days from receipt, where the lot gives no date.
    #[schema(value_type = Option<schema::Days>)]
    pub shelf_days: Option<Number>,
    /// Life once opened, in days; without it: no limit.
    #[schema(value_type = Option<schema::Days>)]
    pub open_days: Option<Number>,
    /// Life of a mix, in days.
    #[schema(value_type = Option<schema::Days>)]
    pub mix_days: Option<Number>,
    /// Grams in a millilitre; without it: 1.
    #[schema(value_type = Option<schema::Positive>)]
    pub density_g_ml: Option<Number>,
    /// Weight of the empty container, in grams.
    #[schema(value_type = Option<schema::NotNegative>)]
    pub tare_g: Option<Number>,
    /// The number in its barcode.
    #[schema(value_type = Option<schema::Gtin>)]
    pub gtin: Option<String>,
    /// GHS pictogram codes and H-statements.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Line>)]
    pub hazards: Vec<String>,
    /// What to wear or switch on: `gloves`, `goggles`, `respirator`, `ventilation`.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Line>)]
    pub protection: Vec<String>,
    /// Products that serve in its place, best first.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Id>)]
    pub substitutes: Vec<String>,
    /// Anything else.
    #[schema(value_type = Option<schema::Notes>)]
    pub notes: Option<String>,
}

impl ProductBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>, id: &Id) -> Option<Product> {
        reader.same_id(id, self.id.as_ref());
        let name = reader.read("name", &self.name, cells::text);
        let unit = reader.read("unit", &self.unit, cells::unit);
        let size = &self.container_size;
        let number = reader.read("container_size", size, cells::decimal_above_zero);
        let category = reader.maybe("category", self.category.as_ref(), cells::text);
        let form = reader.word("form", self.form.as_ref());
        let shelf_days = reader.maybe("shelf_days", self.shelf_days.as_ref(), cells::days);
        let open_days = reader.maybe("open_days", self.open_days.as_ref(), cells::days);
        let mix_days = reader.maybe("mix_days", self.mix_days.as_ref(), cells::days);
        let density = self.density_g_ml.as_ref();
        let density_g_ml = reader.maybe("density_g_ml", density, cells::decimal_above_zero);
        let tare_g = reader.maybe("tare_g", self.tare_g.as_ref(), cells::grams);
        let gtin = reader.maybe("gtin", self.gtin.as_ref(), cells::gtin);
        let hazards = reader.texts("hazards", &self.hazards, cells::text);
        let protection = reader.texts("protection", &self.protection, cells::text);
        let substitutes = reader.texts("substitutes", &self.substitutes, cells::id);
        if substitutes.contains(id) {
            reader.wrong("substitutes", id.as_str(), "other products than itself");
        }
        let notes = reader.maybe("notes", self.notes.as_ref(), cells::notes);
        let container_size = Amount { number: number?, unit: unit? };
        let product = Product {
            category,
            form: form.unwrap_or(Form::ReadyToUse),
            shelf_days,
            open_days,
            mix_days,
            density_g_ml,
            tare_g,
            gtin,
            hazards,
            protection,
            substitutes,
            notes,
            ..Product::new(id.clone(), &name?, container_size)
        };
        if let Err(wrong) = product.quantity(container_size) {
            reader.wrong("container_size", size, &wrong.to_string());
        }
        Some(product)
    }
}
