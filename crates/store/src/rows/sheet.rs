//! The usage sheet.

use capful_domain::{Ratio, SheetRow};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("usage_sheet", {
    own_id: String,
    job_type: String,
    product: String,
    quantity: String,
    unit: String,
    water: Option<String>,
    share_of_jobs: Option<String>,
    log_sd: Option<String>,
    version: i64,
});

impl sealed::Sealed for SheetRow {}

impl Stored for SheetRow {
    const WHAT: &'static str = "row of the usage sheet";
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        format!("{}, {}, {}", self.job_type, self.product, self.ratio.unwrap_or(Ratio::NEAT))
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            job_type: self.job_type.to_string(),
            product: self.product.to_string(),
            quantity: self.amount.number.to_string(),
            unit: self.amount.unit.to_string(),
            water: self.ratio.map(|ratio| ratio.water().to_string()),
            share_of_jobs: text::texts(self.share_of_jobs.as_ref()),
            log_sd: text::texts(self.log_sd.as_ref()),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let sheet = Self {
            job_type: text::id(&row.job_type)?,
            product: text::id(&row.product)?,
            amount: text::amount(&row.quantity, &row.unit)?,
            ratio: text::maybe(row.water.as_ref(), text::ratio)?,
            share_of_jobs: text::maybe(row.share_of_jobs.as_ref(), text::decimal)?,
            log_sd: text::maybe(row.log_sd.as_ref(), text::decimal)?,
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, sheet))
    }
}
