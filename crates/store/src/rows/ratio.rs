//! The ratios that products are used at.

use capful_domain::NamedRatio;

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("ratio", {
    own_id: String,
    product: String,
    label: String,
    water: String,
    version: i64,
});

impl sealed::Sealed for NamedRatio {}

impl Stored for NamedRatio {
    const WHAT: &'static str = "ratio";
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        format!("{}, {}", self.product, self.label)
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            product: self.product.to_string(),
            label: self.label.clone(),
            water: self.ratio.water().to_string(),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let ratio = Self {
            product: text::id(&row.product)?,
            label: row.label.clone(),
            ratio: text::ratio(&row.water)?,
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, ratio))
    }
}
