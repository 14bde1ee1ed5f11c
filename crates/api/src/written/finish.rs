//! The end of a job.

use capful_domain::facts::Pour;
use capful_domain::{Amount, ExpectedPour, Id, Job, JobStatus};
use capful_folder::cells;
use capful_store::{Finish, Versioned};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// How a job ended, and what it took. Without pours: what it is expected to have taken.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FinishBody {
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub finished_at: Option<String>,
    /// What was measured or weighed.
    #[serde(default)]
    pub pours: Vec<FinishPourBody>,
    /// What it took of the rest of its usage sheet: `expected` (as learned) or `none`; without it:
    /// `expected`.
    #[schema(example = "expected", value_type = Option<schema::RestWord>)]
    pub rest: Option<String>,
}

/// What was measured of one product at the end of a job.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FinishPourBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: at the end of the job.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How much; of the mix where `water` is given or `container` is a mix. Nothing: it took none.
    #[schema(value_type = schema::NotNegative)]
    pub quantity: Number,
    /// Its unit; without it: the product's own.
    #[schema(example = "mL", value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// Parts of water to one part of product, of the mix that was measured.
    #[schema(value_type = Option<schema::Water>)]
    pub water: Option<Number>,
    /// Out of which container; without it: first expired, first out.
    #[schema(value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
    /// `measured` or `weighed`; without it: `measured`.
    #[schema(value_type = Option<schema::MeasuredWord>)]
    pub method: Option<String>,
}

/// What a body says of a job's end.
pub(crate) struct Finishing {
    at: DateTime<Utc>,
    pours: Vec<Pour>,
    /// Whether the rest is taken to be as expected, and not nothing.
    rest_is_expected: bool,
}

impl FinishBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>, job: &Job) -> Option<Finishing> {
        let at = reader.time("finished_at", self.finished_at.as_ref());
        let rest_is_expected = match self.rest.as_deref() {
            None | Some("expected") => true,
            Some("none") => false,
            Some(other) => {
                reader.wrong("rest", other, "one of expected, none");
                false
            }
        };
        let pours = reader.each("pours", &self.pours, |reader, pour| pour.read(reader, at?, job));
        Some(Finishing { at: at?, pours: pours?, rest_is_expected })
    }
}

impl FinishPourBody {
    fn read(&self, reader: &mut Reader<'_>, ended_at: DateTime<Utc>, job: &Job) -> Option<Pour> {
        let id = reader.new_id(self.id.as_ref());
        let at = match &self.at {
            None => Some(ended_at),
            some => reader.time("at", some.as_ref()),
        };
        let product = reader.read("product", &self.product, cells::id);
        let ratio = reader.water(self.water.as_ref());
        let (of, unit) = (product.as_ref(), self.unit.as_ref());
        let amount = reader.amount_of_mix(of, &self.quantity, unit, ratio);
        let container = reader.container(self.container.as_ref());
        let method = match self.method.as_deref() {
            Some("expected") => {
                let expected = "measured or weighed; what is not listed is expected";
                reader.wrong("method", "expected", expected);
                None
            }
            _ => reader.word("method", self.method.as_ref()),
        };
        let (id, at, product, amount) = (id?, at?, product?, amount?);
        let job = Some(job.id.clone());
        Some(Pour { id, at, product, amount, job, ratio, container, method })
    }
}

impl Finishing {
    /// The job as it is then.
    pub(crate) fn ended(&self, job: &Job) -> Job {
        Job { status: JobStatus::Done, finished_at: Some(self.at), ..job.clone() }
    }

    /// Whether the rest of its sheet was measured too, as nothing.
    pub(crate) const fn rest_is_nothing(&self) -> bool {
        !self.rest_is_expected
    }

    /// Whether a product was measured.
    pub(crate) fn measured(&self, product: &Id) -> bool {
        self.pours.iter().any(|pour| pour.product == *product)
    }

    /// With the rest of its sheet: taken to be this, or nothing of each.
    pub(crate) fn with(
        self,
        job: Versioned<Job>,
        rest: Vec<ExpectedPour>,
        reader: &mut Reader<'_>,
    ) -> Finish {
        let Self { at, mut pours, rest_is_expected } = self;
        if rest_is_expected {
            return Finish { job, at, pours, expected: rest };
        }
        for ExpectedPour { product, .. } in rest {
            let unit = reader.product(&product).map(|product| product.unit);
            let Some((unit, id)) = unit.zip(reader.new_id(None)) else { continue };
            let (amount, job) = (Amount::zero(unit), Some(job.row.id.clone()));
            let (ratio, container, method) = (None, None, None);
            pours.push(Pour { id, at, product, amount, job, ratio, container, method });
        }
        Finish { job, at, pours, expected: Vec::new() }
    }
}
