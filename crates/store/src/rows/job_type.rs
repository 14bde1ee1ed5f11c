//! The services that the shop sells.

use capful_domain::catalog::ComesBack;
use capful_domain::{JobType, Money};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("job_type", {
    own_id: String,
    name: String,
    price: Option<i64>,
    stall_cost: Option<i64>,
    return_days: Option<i64>,
    return_share: Option<String>,
    return_job_type: Option<String>,
    version: i64,
});

impl sealed::Sealed for JobType {}

impl Stored for JobType {
    const WHAT: &'static str = "job type";
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        self.id.to_string()
    }

    fn to_row(&self, place: RowMeta) -> Model {
        let back = self.comes_back.as_ref();
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            name: self.name.clone(),
            price: self.price.map(Money::minor),
            stall_cost: self.stall_cost.map(Money::minor),
            return_days: back.map(|back| back.days.into()),
            return_share: back.map(|back| back.share.to_string()),
            return_job_type: back.and_then(|back| text::texts(back.job_type.as_ref())),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let comes_back = match (row.return_days, &row.return_share) {
            (Some(days), Some(share)) => Some(ComesBack {
                days: text::whole(days)?,
                share: text::decimal(share)?,
                job_type: text::maybe(row.return_job_type.as_ref(), text::id)?,
            }),
            _ => None,
        };
        let job_type = Self {
            id: text::id(&row.own_id)?,
            name: row.name.clone(),
            price: row.price.map(Money::from_minor),
            stall_cost: row.stall_cost.map(Money::from_minor),
            comes_back,
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, job_type))
    }
}
