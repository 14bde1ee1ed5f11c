//! The fields of a job, as it is booked and as it is changed.

use capful_domain::{Job, VehicleSize, Word};

use super::size_name;
use crate::api::Api;
use crate::known::Known;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::Measures;
use crate::pages::say::words;
use crate::problem::Problem;
use crate::written::{JobBody, Reader};

/// Something to choose.
pub(crate) struct Choice {
    pub word: String,
    pub name: String,
    pub note: String,
    pub chosen: bool,
}

/// The fields of a job, filled in.
pub(crate) struct JobFields {
    pub fields: Fields,
    pub types: Vec<Choice>,
    pub sizes: Vec<Choice>,
    pub grades: Vec<Choice>,
    pub currency: &'static str,
    pub wrong: Option<Problem>,
}

impl JobFields {
    /// As they are sent or filled in; prices are for who owns the shop.
    pub(crate) fn of(
        known: &Known,
        fields: Fields,
        is_owner: bool,
        wrong: Option<Problem>,
    ) -> Self {
        let t = words();
        let measures = Measures::of(&known.shop);
        let types = known.job_types.iter().map(|own| Choice {
            word: own.id.to_string(),
            name: own.name.clone(),
            note: own.price.filter(|_| is_owner).map(|p| measures.money(p)).unwrap_or_default(),
            chosen: fields.ticked("job_types", own.id.as_str()),
        });
        let sizes = VehicleSize::ALL.into_iter().map(|size| Choice {
            word: size.word().to_owned(),
            name: size_name(size),
            note: t.say(&format!("size-{}-note", size.word())).to_string(),
            chosen: fields.ticked("size", size.word()),
        });
        let grades = (1..=5).map(|grade: u8| Choice {
            word: grade.to_string(),
            name: t.say(&format!("condition-{grade}")).to_string(),
            note: String::new(),
            chosen: fields.ticked("condition", &grade.to_string()),
        });
        Self {
            types: types.collect(),
            sizes: sizes.collect(),
            grades: grades.collect(),
            currency: known.shop.currency.code(),
            fields,
            wrong,
        }
    }

    /// What is wrong with a field.
    pub(crate) fn wrong_at(&self, field: &str) -> Option<&str> {
        let wrong = self.wrong.as_ref()?;
        let is_it = |name: &str| name.split('[').next() == Some(field);
        if let Some(error) = wrong.errors.iter().find(|error| is_it(&error.field)) {
            return Some(&error.detail);
        }
        let own = wrong.field.as_deref().filter(|name| wrong.errors.is_empty() && is_it(name));
        own.map(|_| wrong.detail.as_str())
    }

    /// Whether what is wrong is told at none of the fields.
    pub(crate) fn is_wrong_elsewhere(&self) -> bool {
        let names = ["planned_on", "job_types", "size", "condition", "vehicle", "price"];
        self.wrong.is_some() && names.iter().all(|name| self.wrong_at(name).is_none())
    }
}

/// The fields of a job as it stands.
pub(crate) fn filled_in(job: &Job, known: &Known) -> Fields {
    let price = job.price.map(|price| price.to_decimal(known.shop.currency).to_string());
    let mut pairs = form_urlencoded::Serializer::new(String::new());
    pairs.append_pair("planned_on", &job.planned_on.to_string());
    for job_type in &job.job_types {
        pairs.append_pair("job_types", job_type.as_str());
    }
    pairs.append_pair("size", job.size.word());
    pairs.append_pair("condition", &job.condition.grade().to_string());
    pairs.append_pair("vehicle", job.vehicle.as_deref().unwrap_or_default());
    pairs.append_pair("price", &price.unwrap_or_default());
    Fields::read(pairs.finish().as_bytes())
}

/// The job that a form asks for, new; a price only of who owns the shop.
///
/// # Errors
/// [`Problem`] of the fields that are wrong.
pub(crate) fn read(api: &Api, known: &Known, form: &Form) -> Result<Job, Problem> {
    let owner = ["planned_on", "size", "condition", "vehicle", "price"];
    let names = if form.visitor.is_owner() { &owner[..] } else { &owner[..4] };
    let body: JobBody = form.fields.body(names, &["job_types"])?;
    let mut reader = Reader::new(api, known, api.now());
    let job = body.read(&mut reader);
    reader.end(job)
}
