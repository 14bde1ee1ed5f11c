//! What suppliers offer.

use capful_domain::{Money, Offer};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("offer", {
    own_id: String,
    supplier: String,
    product: String,
    pack: i64,
    price: i64,
    code: Option<String>,
    minimum_packs: i64,
    preferred: bool,
    version: i64,
});

impl sealed::Sealed for Offer {}

impl Stored for Offer {
    const WHAT: &'static str = "offer";
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        format!("{}, {}, {}", self.supplier, self.product, self.pack)
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            supplier: self.supplier.to_string(),
            product: self.product.to_string(),
            pack: self.pack.into(),
            price: self.price.minor(),
            code: self.code.clone(),
            minimum_packs: self.minimum_packs.into(),
            preferred: self.preferred,
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let offer = Self {
            supplier: text::id(&row.supplier)?,
            product: text::id(&row.product)?,
            pack: text::whole(row.pack)?,
            price: Money::from_minor(row.price),
            code: row.code.clone(),
            minimum_packs: text::whole(row.minimum_packs)?,
            preferred: row.preferred,
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, offer))
    }
}
