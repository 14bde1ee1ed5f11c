//! Undoing: what a deed wrote is reversed, or is as it was before.

use std::collections::BTreeSet;

use capful_domain::facts::Receipt;
use capful_domain::facts::{Count, Discard, Method, Mix, Opening, Order, OrderStatus, Pour};
use capful_domain::{Id, Job, JobStatus, Word};
use sea_orm::IntoActiveModel;
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{ActiveModelTrait, EntityTrait, Set};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::audit::audit_log::{AuditAction, AuditEntry, read_written};
use crate::commands::orders::{OneRow, told_status};
use crate::db::error::Failure;
use crate::db::error::refuse;
use crate::db::sql;
use crate::db::sql::of_job;
use crate::db::work::Work;
use crate::request::change::{Effects, EventKind};
use crate::rows::{Deeds, RowMeta, told_job, untold_job};

/// Rows of one kind, by their ids.
struct Wrote {
    kind: EventKind,
    ids: Vec<String>,
}

/// A row that was written: which, and whether it stands.
struct Row {
    id: Id,
    stands: bool,
}

impl Work<'_> {
    /// Undoes what somebody did.
    pub(crate) async fn undo_deed(&self, id: Uuid) -> Result<Effects, Failure> {
        let row = self.find_deed(id).await?;
        let deed = AuditEntry::of_row(&row)?;
        if let Some(at) = deed.undone_at {
            return refuse(&format!("it was already undone, at {}", at.to_rfc3339()));
        }
        let written = read_written(&row)?;
        if let Some(instead) = deed.what.instead_of(&written) {
            return refuse(instead);
        }
        let outcome = self.undo_what(&deed, &written).await?;
        let mut row = row.into_active_model();
        row.undone_at = Set(Some(self.now));
        Deeds::update(row.reset_all()).exec_without_returning(&self.tx).await?;
        Ok(outcome)
    }

    async fn undo_what(&self, deed: &AuditEntry, written: &Value) -> Result<Effects, Failure> {
        let of = deed.of.as_str();
        match deed.what {
            AuditAction::JobFinished => self.undo_finish(of, wrote(deed.what, written)).await,
            AuditAction::JobStarted => self.undo_start(of).await,
            AuditAction::JobCancelled => self.undo_cancel(of).await,
            AuditAction::JobBooked => self.undo_booking(of).await,
            AuditAction::JobChanged => self.undo_job_edit(of, written).await,
            AuditAction::OrderPlaced => self.undo_order(of).await,
            AuditAction::OrderChanged => self.undo_order_edit(of, written).await,
            what if what.sets_up() => self.revert_setup(written).await,
            AuditAction::Received if written.get("after").is_some() => {
                self.undo_last_receipt(written).await
            }
            _ => match wrote(deed.what, written) {
                Some(wrote) => self.undo_rows(&wrote).await,
                None => refuse("this cannot be undone"),
            },
        }
    }

    /// Reverses those of some rows that stand; there must be one.
    async fn undo_rows(&self, wrote: &Wrote) -> Result<Effects, Failure> {
        let outcome = self.reverse_standing(wrote).await?;
        if outcome.written.is_empty() {
            return refuse("it was already undone: all that it wrote was reversed");
        }
        Ok(outcome)
    }

    /// Reverses the pours that a job's end wrote, and the job is open again. What was poured before
    /// its end stays.
    async fn undo_finish(&self, job: &str, wrote: Option<Wrote>) -> Result<Effects, Failure> {
        let mut wrote = wrote.unwrap_or(Wrote { kind: EventKind::Pour, ids: Vec::new() });
        wrote.ids.extend(self.pours_of_nothing(job).await?);
        let (place, job) = self.job_that_is(job, JobStatus::Done, "opened again").await?;
        let open = match job.started_at {
            Some(_) => JobStatus::Started,
            None => JobStatus::Booked,
        };
        // Before its pours: a job that is done keeps a pour in place of what was expected of it.
        let job = Job { status: open, finished_at: None, ..job };
        let mut outcome = self.write_job(place, &job).await?;
        add(&mut outcome, self.reverse_standing(&wrote).await?);
        Ok(outcome)
    }

    /// Expected pours of nothing, which say that nothing is deducted of a product for a job.
    async fn pours_of_nothing(&self, job: &str) -> Result<Vec<String>, Failure> {
        let job = Id::parse(job).map_err(|_| sql::not_found::<Job>(job))?;
        let own = sql::list::<Pour>(&self.tx, self.shop, Some(of_job(&job))).await?;
        let of_nothing = own
            .into_iter()
            .map(|(_, pour)| pour)
            .filter(|pour| pour.method == Some(Method::Expected) && pour.amount.number.is_zero());
        Ok(of_nothing.map(|pour| pour.id.to_string()).collect())
    }

    async fn undo_start(&self, job: &str) -> Result<Effects, Failure> {
        let (place, job) = self.job_that_is(job, JobStatus::Started, "booked again").await?;
        let job = Job { status: JobStatus::Booked, started_at: None, ..job };
        self.write_job(place, &job).await
    }

    async fn undo_cancel(&self, job: &str) -> Result<Effects, Failure> {
        let (place, job) = self.job_that_is(job, JobStatus::Cancelled, "taken up again").await?;
        let status = match job.started_at {
            Some(_) => JobStatus::Started,
            None => JobStatus::Booked,
        };
        let job = Job { status, cancelled_at: None, ..job };
        self.write_job(place, &job).await
    }

    async fn undo_booking(&self, job: &str) -> Result<Effects, Failure> {
        let (place, job) = self.job_that_is(job, JobStatus::Booked, "called off so").await?;
        if !sql::list::<Pour>(&self.tx, self.shop, Some(of_job(&job.id))).await?.is_empty() {
            return refuse(&format!("something was poured for job {}: cancel the job", job.id));
        }
        let cancelled_at = Some(Ord::max(self.now, job.booked_at));
        let job = Job { status: JobStatus::Cancelled, cancelled_at, ..job };
        self.write_job(place, &job).await
    }

    async fn undo_job_edit(&self, job: &str, written: &Value) -> Result<Effects, Failure> {
        let (place, job) = sql::get::<Job>(self, job).await?;
        if Some(&told_job(&job)) != written.get("after") {
            return refuse(&format!("job {} was changed since: change it as it is to be", job.id));
        }
        let before = untold_job(written.get("before").unwrap_or(&Value::Null), &job)?;
        self.write_job(place, &before).await
    }

    async fn undo_order(&self, order: &str) -> Result<Effects, Failure> {
        let (place, order) = sql::get::<Order>(self, order).await?;
        let came = Expr::col("order_id").eq(order.id.as_str());
        let came = came.and(Expr::col("reversed_at").is_null());
        let came = sql::list::<Receipt>(&self.tx, self.shop, Some(came)).await?;
        match order.status {
            Some(OrderStatus::Cancelled) => {
                refuse(&format!("order {} is cancelled already", order.id))
            }
            _ if !came.is_empty() => refuse(&format!(
                "something of order {} came in: undo what was received first",
                order.id
            )),
            Some(OrderStatus::Received) => refuse(&format!(
                "order {} is received: undo that first, or place a new one",
                order.id
            )),
            _ => {
                let order = Order { status: Some(OrderStatus::Cancelled), ..order };
                self.write_order(place, &order).await
            }
        }
    }

    async fn undo_order_edit(&self, order: &str, written: &Value) -> Result<Effects, Failure> {
        let (place, order) = sql::get::<Order>(self, order).await?;
        if Some(&told_status(order.status)) != written.get("after") {
            let now = order.status.map_or("placed", |status| status.word());
            return refuse(&format!("order {} was changed since: it is {now} now", order.id));
        }
        let before = written.get("before").and_then(Value::as_str);
        let order = Order { status: before.and_then(OrderStatus::from_word), ..order };
        self.write_order(place, &order).await
    }

    /// Reverses what came in last of an order, which is waited for again.
    async fn undo_last_receipt(&self, written: &Value) -> Result<Effects, Failure> {
        let of = |when: &str, what: &str| written.get(when).and_then(|own| own.get(what));
        let order = of("after", "order").and_then(Value::as_str).unwrap_or_default();
        let edit = json!({ "before": of("before", "status"), "after": of("after", "status") });
        let mut outcome = self.undo_order_edit(order, &edit).await?;
        let Some(wrote) = wrote(AuditAction::Received, written) else { return Ok(outcome) };
        let rows = self.reverse_standing(&wrote).await?;
        outcome.written.clear();
        add(&mut outcome, rows);
        Ok(outcome)
    }

    /// A job that is as far as what is undone left it.
    async fn job_that_is(
        &self,
        job: &str,
        status: JobStatus,
        what: &str,
    ) -> Result<(RowMeta, Job), Failure> {
        let (place, job) = sql::get::<Job>(self, job).await?;
        if job.status == status {
            return Ok((place, job));
        }
        let (id, now, right) = (&job.id, job.status.word(), status.word());
        refuse(&format!("job {id} is {now}: one that is {right} can be {what}"))
    }

    /// Reverses those rows that stand, the last first; gives nothing written where none does.
    async fn reverse_standing(&self, wrote: &Wrote) -> Result<Effects, Failure> {
        let mut outcome = Effects::default();
        let rows = self.rows_of(wrote).await?;
        for row in rows.iter().rev().filter(|row| row.stands) {
            add(&mut outcome, self.reverse(wrote.kind, &row.id).await?);
        }
        Ok(outcome)
    }

    async fn rows_of(&self, wrote: &Wrote) -> Result<Vec<Row>, Failure> {
        match wrote.kind {
            EventKind::Pour => self.rows::<Pour>(&wrote.ids).await,
            EventKind::Receipt => self.rows::<Receipt>(&wrote.ids).await,
            EventKind::Opening => self.rows::<Opening>(&wrote.ids).await,
            EventKind::Discard => self.rows::<Discard>(&wrote.ids).await,
            EventKind::Mix => self.rows::<Mix>(&wrote.ids).await,
            EventKind::Count => self.rows::<Count>(&wrote.ids).await,
        }
    }

    async fn rows<T: OneRow>(&self, ids: &[String]) -> Result<Vec<Row>, Failure> {
        let mut rows = Vec::with_capacity(ids.len());
        for ids in ids.chunks(sql::MOST_VALUES) {
            let own = sql::one_of("own_id", ids);
            for (place, row) in sql::list::<T>(&self.tx, self.shop, Some(own)).await? {
                let row = row.as_row();
                rows.push(Row {
                    id: row.source().id().clone(),
                    stands: place.reversed_at.is_none(),
                });
            }
        }
        Ok(rows)
    }
}

/// The rows of the shelf that a deed wrote.
fn wrote(what: AuditAction, written: &Value) -> Option<Wrote> {
    let kind = what.rows()?;
    let ids = written.get(kind.word()).and_then(Value::as_array)?;
    let ids = ids.iter().filter_map(Value::as_str).map(str::to_owned).collect();
    Some(Wrote { kind, ids })
}

/// Takes over what a part came to.
fn add(outcome: &mut Effects, part: Effects) {
    outcome.written.extend(part.written);
    outcome.movements.extend(part.movements);
    outcome.posted.extend(part.posted);
    let now: BTreeSet<_> = part.containers.iter().map(|container| container.id.clone()).collect();
    outcome.containers.retain(|container| !now.contains(&container.id));
    outcome.containers.extend(part.containers);
}
