//! Products.

use capful_domain::{Product, Word};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("product", {
    own_id: String,
    name: String,
    unit: String,
    container_size: String,
    container_unit: String,
    category: Option<String>,
    form: String,
    shelf_days: Option<i64>,
    open_days: Option<i64>,
    mix_days: Option<i64>,
    density_g_ml: Option<String>,
    tare_g: Option<String>,
    gtin: Option<String>,
    hazards: String,
    protection: String,
    substitutes: String,
    notes: Option<String>,
    version: i64,
});

impl sealed::Sealed for Product {}

impl Stored for Product {
    const WHAT: &'static str = "product";
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        self.id.to_string()
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            name: self.name.clone(),
            unit: self.unit.to_string(),
            container_size: self.container_size.number.to_string(),
            container_unit: self.container_size.unit.to_string(),
            category: self.category.clone(),
            form: self.form.word().to_owned(),
            shelf_days: self.shelf_days.map(i64::from),
            open_days: self.open_days.map(i64::from),
            mix_days: self.mix_days.map(i64::from),
            density_g_ml: text::texts(self.density_g_ml.as_ref()),
            tare_g: text::texts(self.tare_g.as_ref()),
            gtin: self.gtin.clone(),
            hazards: text::list_text(&self.hazards),
            protection: text::list_text(&self.protection),
            substitutes: text::list_text(&self.substitutes),
            notes: self.notes.clone(),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let size = text::amount(&row.container_size, &row.container_unit)?;
        let owned = |text: &str| Ok(text.to_owned());
        let product = Self {
            unit: text::unit(&row.unit)?,
            category: row.category.clone(),
            form: text::word(&row.form)?,
            shelf_days: text::maybe_whole(row.shelf_days)?,
            open_days: text::maybe_whole(row.open_days)?,
            mix_days: text::maybe_whole(row.mix_days)?,
            density_g_ml: text::maybe(row.density_g_ml.as_ref(), text::decimal)?,
            tare_g: text::maybe(row.tare_g.as_ref(), text::decimal)?,
            gtin: row.gtin.clone(),
            hazards: text::list(&row.hazards, owned)?,
            protection: text::list(&row.protection, owned)?,
            substitutes: text::list(&row.substitutes, text::id)?,
            notes: row.notes.clone(),
            ..Self::new(text::id(&row.own_id)?, &row.name, size)
        };
        let place = RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, product))
    }
}
