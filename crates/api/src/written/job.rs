//! Jobs: booked, changed, and the moments of their life.

use capful_domain::{Job, JobStatus};
use capful_folder::cells;
use serde::{Deserialize, Deserializer};
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// A vehicle's visit, as it is booked.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct JobBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(example = "J-2041", value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When the booking was made; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub booked_at: Option<String>,
    /// The day the vehicle comes.
    #[schema(example = "2026-03-05", value_type = schema::Day)]
    pub planned_on: String,
    /// What is to be done, at least one.
    #[schema(value_type = Vec<schema::Id>, min_items = 1)]
    pub job_types: Vec<String>,
    /// `small`, `medium`, `large` or `oversize`.
    #[schema(example = "medium", value_type = schema::SizeWord)]
    pub size: String,
    /// 1 (well kept) to 5 (neglected).
    #[schema(value_type = schema::Grade)]
    pub condition: Number,
    /// Which vehicle.
    #[schema(value_type = Option<schema::Line>)]
    pub vehicle: Option<String>,
    /// What was asked for it.
    #[schema(value_type = Option<schema::Money>)]
    pub price: Option<Number>,
}

impl JobBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Job> {
        let id = reader.new_id(self.id.as_ref());
        let booked_at = reader.time("booked_at", self.booked_at.as_ref());
        let planned_on = reader.read("planned_on", &self.planned_on, cells::day);
        let job_types = reader.texts("job_types", &self.job_types, cells::id);
        if self.job_types.is_empty() {
            reader.wrong("job_types", "", "at least one job type");
        }
        let size = reader.read("size", &self.size, cells::word);
        let condition = reader.read("condition", &self.condition, cells::condition);
        let vehicle = reader.maybe("vehicle", self.vehicle.as_ref(), cells::text);
        let price = reader.maybe_money("price", self.price.as_ref());
        Some(Job {
            id: id?,
            booked_at: booked_at?,
            planned_on: planned_on?,
            status: JobStatus::Booked,
            job_types,
            size: size?,
            condition: condition?,
            started_at: None,
            finished_at: None,
            cancelled_at: None,
            vehicle,
            price,
        })
    }
}

/// What changes of a job; what is not there stays.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct JobChangeBody {
    /// The day the vehicle comes.
    #[schema(value_type = Option<schema::Day>)]
    pub planned_on: Option<String>,
    /// What is to be done, at least one.
    #[schema(value_type = Option<Vec<schema::Id>>, min_items = 1)]
    pub job_types: Option<Vec<String>>,
    /// `small`, `medium`, `large` or `oversize`.
    #[schema(value_type = Option<schema::SizeWord>)]
    pub size: Option<String>,
    /// 1 (well kept) to 5 (neglected).
    #[schema(value_type = Option<schema::Grade>)]
    pub condition: Option<Number>,
    /// Which vehicle; `null`: it is not known.
    #[serde(default, deserialize_with = "is_there")]
    #[schema(value_type = Option<schema::Line>)]
    pub vehicle: Option<Option<String>>,
    /// What was asked for it; `null`: what its job types cost.
    #[serde(default, deserialize_with = "is_there")]
    #[schema(value_type = Option<schema::Money>)]
    pub price: Option<Option<Number>>,
}

/// Tells `null` from nothing.
fn is_there<'de, T, D>(reader: D) -> Result<Option<Option<T>>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    Option::deserialize(reader).map(Some)
}

impl JobChangeBody {
    /// The job as it is from now on.
    pub(crate) fn read(&self, reader: &mut Reader<'_>, job: Job) -> Option<Job> {
        let planned_on = reader.maybe("planned_on", self.planned_on.as_ref(), cells::day);
        let types = self.job_types.as_ref();
        if types.is_some_and(Vec::is_empty) {
            reader.wrong("job_types", "", "at least one job type");
        }
        let job_types = types.map(|types| reader.texts("job_types", types, cells::id));
        let size = reader.word("size", self.size.as_ref());
        let condition = reader.maybe("condition", self.condition.as_ref(), cells::condition);
        let vehicle = self.vehicle.as_ref();
        let vehicle = vehicle.map(|text| reader.maybe("vehicle", text.as_ref(), cells::text));
        let price = self.price.as_ref();
        let price = price.map(|price| reader.maybe_money("price", price.as_ref()));
        Some(Job {
            planned_on: planned_on.unwrap_or(job.planned_on),
            job_types: job_types.unwrap_or(job.job_types),
            size: size.unwrap_or(job.size),
            condition: condition.unwrap_or(job.condition),
            vehicle: vehicle.unwrap_or(job.vehicle),
            price: price.unwrap_or(job.price),
            ..job
        })
    }
}

/// When something happened.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhenBody {
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
}
