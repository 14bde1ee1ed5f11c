//! Jobs.

use capful_domain::{Condition, Job, Money, Word};
use chrono::{DateTime, NaiveDate, Utc};
use serde_json::{Value, json};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("job", {
    own_id: String,
    booked_at: DateTime<Utc>,
    planned_on: NaiveDate,
    status: String,
    job_types: String,
    size: String,
    condition: i64,
    started_at: Option<DateTime<Utc>>,
    finished_at: Option<DateTime<Utc>>,
    cancelled_at: Option<DateTime<Utc>>,
    vehicle: Option<String>,
    price: Option<i64>,
    version: i64,
});

impl sealed::Sealed for Job {}

impl Stored for Job {
    const WHAT: &'static str = "job";
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
            booked_at: self.booked_at,
            planned_on: self.planned_on,
            status: self.status.word().to_owned(),
            job_types: text::list_text(&self.job_types),
            size: self.size.word().to_owned(),
            condition: self.condition.grade().into(),
            started_at: self.started_at,
            finished_at: self.finished_at,
            cancelled_at: self.cancelled_at,
            vehicle: self.vehicle.clone(),
            price: self.price.map(Money::minor),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let grade = Condition::new(text::whole(row.condition)?);
        let no_grade = || Unreadable::new("a condition", &row.condition.to_string());
        let job = Self {
            id: text::id(&row.own_id)?,
            booked_at: row.booked_at,
            planned_on: row.planned_on,
            status: text::word(&row.status)?,
            job_types: text::list(&row.job_types, text::id)?,
            size: text::word(&row.size)?,
            condition: grade.ok_or_else(no_grade)?,
            started_at: row.started_at,
            finished_at: row.finished_at,
            cancelled_at: row.cancelled_at,
            vehicle: row.vehicle.clone(),
            price: row.price.map(Money::from_minor),
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, job))
    }
}

/// What an edit of a job may write over, as it is kept with who edited it.
pub(crate) fn told(job: &Job) -> Value {
    json!({
        "planned_on": job.planned_on.to_string(),
        "job_types": text::list_text(&job.job_types),
        "size": job.size.word(),
        "condition": job.condition.grade(),
        "vehicle": job.vehicle,
        "price": job.price.map(Money::minor),
    })
}

/// The job with these written over again.
pub(crate) fn untold(value: &Value, job: &Job) -> Result<Job, Unreadable> {
    let own = |key: &str| value.get(key).and_then(Value::as_str);
    let must = |key| own(key).ok_or_else(|| Unreadable::new("a job", &value.to_string()));
    let grade: u8 =
        text::whole(value.get("condition").and_then(Value::as_i64).unwrap_or_default())?;
    let no_grade = || Unreadable::new("a condition", &grade.to_string());
    Ok(Job {
        planned_on: text::parsed("a day", must("planned_on")?)?,
        job_types: text::list(must("job_types")?, text::id)?,
        size: text::word(must("size")?)?,
        condition: Condition::new(grade).ok_or_else(no_grade)?,
        vehicle: own("vehicle").map(str::to_owned),
        price: value.get("price").and_then(Value::as_i64).map(Money::from_minor),
        ..job.clone()
    })
}
