//! Job types and what they are expected to take.

use capful_domain::catalog::ComesBack;
use capful_domain::{Id, JobType, SheetRow};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// A service that the shop sells, as it is from now on.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct JobTypeBody {
    /// The id in the address, or nothing.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// Its name.
    #[schema(example = "Maintenance wash", value_type = schema::Line)]
    pub name: String,
    /// What the shop asks for it.
    #[schema(value_type = Option<schema::Money>)]
    pub price: Option<Number>,
    /// What one stalled job of it costs; without it: as the shop says.
    #[schema(value_type = Option<schema::Money>)]
    pub stall_cost: Option<Number>,
    /// Some of its jobs come back after so many days.
    #[schema(value_type = Option<schema::DaysFromOne>)]
    pub return_days: Option<Number>,
    /// This share of them.
    #[schema(value_type = Option<schema::Share>)]
    pub return_share: Option<Number>,
    /// For this job type; without it: for the same.
    #[schema(value_type = Option<schema::Id>)]
    pub return_job_type: Option<String>,
    /// What it is expected to take, at medium size and condition 3: the whole sheet. Without it
    /// the sheet stays as it is.
    pub usage_sheet: Option<Vec<SheetRowBody>>,
}

/// What a job type is expected to take of a product.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SheetRowBody {
    /// The product.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How much, when it is used; of the mix where `water` is given.
    #[schema(value_type = schema::NotNegative)]
    pub quantity: Number,
    /// Its unit; without it: the product's own.
    #[schema(example = "mL", value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// Parts of water to one part of product.
    #[schema(value_type = Option<schema::Water>)]
    pub water: Option<Number>,
    /// How often it is used at all; without it: always.
    #[schema(value_type = Option<schema::Share>)]
    pub share_of_jobs: Option<Number>,
    /// How sure the owner is: standard deviation of the logarithm; without it: 0.5.
    #[schema(value_type = Option<schema::Positive>)]
    pub log_sd: Option<Number>,
}

impl JobTypeBody {
    /// The job type, and its sheet where one is given.
    pub(crate) fn read(
        &self,
        reader: &mut Reader<'_>,
        id: &Id,
    ) -> Option<(JobType, Option<Vec<SheetRow>>)> {
        reader.same_id(id, self.id.as_ref());
        let name = reader.read("name", &self.name, cells::text);
        let price = reader.maybe_money("price", self.price.as_ref());
        let stall_cost = reader.maybe_money("stall_cost", self.stall_cost.as_ref());
        let comes_back = self.comes_back(reader);
        let sheet = self.usage_sheet.as_ref();
        let sheet = sheet.map(|rows| reader.each("usage_sheet", rows, |r, row| row.read(r, id)));
        let sheet = match sheet {
            Some(rows) => Some(rows?),
            None => None,
        };
        Some((JobType { id: id.clone(), name: name?, price, stall_cost, comes_back }, sheet))
    }

    fn comes_back(&self, reader: &mut Reader<'_>) -> Option<ComesBack> {
        let (days, share) = (self.return_days.as_ref(), self.return_share.as_ref());
        let job_type = self.return_job_type.as_ref();
        if days.is_some() || share.is_some() || job_type.is_some() {
            let both = "a number, as other fields say that these jobs come back";
            if days.is_none() {
                reader.wrong("return_days", "", both);
            }
            if share.is_none() {
                reader.wrong("return_share", "", both);
            }
        }
        let days = reader.maybe("return_days", days, cells::days_from_one);
        let share = reader.maybe("return_share", share, cells::share);
        let job_type = reader.maybe("return_job_type", job_type, cells::id);
        Some(ComesBack { days: days?, share: share?, job_type })
    }
}

impl SheetRowBody {
    fn read(&self, reader: &mut Reader<'_>, job_type: &Id) -> Option<SheetRow> {
        let product = reader.read("product", &self.product, cells::id);
        let ratio = reader.water(self.water.as_ref());
        let (of, unit) = (product.as_ref(), self.unit.as_ref());
        let amount = reader.amount_of_mix(of, &self.quantity, unit, ratio);
        let share_of_jobs =
            reader.maybe("share_of_jobs", self.share_of_jobs.as_ref(), cells::share);
        let log_sd = reader.maybe("log_sd", self.log_sd.as_ref(), cells::decimal_above_zero);
        let (product, amount) = (product?, amount?);
        let job_type = job_type.clone();
        Some(SheetRow { job_type, product, amount, ratio, share_of_jobs, log_sd })
    }
}
