//! Jobs: booked, changed, begun, called off, finished; and what is poured for them.

use std::collections::{BTreeSet, HashSet};

use capful_domain::facts::{Method, Pour};
use capful_domain::{
    Amount, Dimension, ExpectedPour, Id, Job, JobStatus, JobType, Product, Unit, Word,
};
use chrono::{DateTime, TimeDelta, Utc};

use crate::books::posting::{self, Before, EntryMode};
use crate::books::shelf::ShelfRow;
use crate::db::error::refuse;
use crate::db::error::{Failure, StoreError};
use crate::db::moments::RESOLUTION;
use crate::db::sql;
use crate::db::work::Work;
use crate::queries::latest::When;
use crate::request::change::{Edited, Effects, Finish};
use crate::rows::{RowMeta, Stored, told_job};

/// How long a change waits at most before it is written.
const LONGEST_WAIT: TimeDelta = TimeDelta::seconds(30);

impl Work<'_> {
    pub(crate) async fn book(&self, job: &Job) -> Result<Effects, Failure> {
        if job.status != JobStatus::Booked {
            return refuse("status: booked; a job is started, finished or cancelled afterwards");
        }
        self.check_types(job).await?;
        if sql::find::<Job>(&self.tx, self.shop, job.id.as_str()).await?.is_some() {
            return Err(StoreError::Conflict { what: "job", id: job.id.to_string() }.into());
        }
        sql::insert(self, std::slice::from_ref(job)).await?;
        let written = vec![job.id.to_string()];
        Ok(Effects { written, version: Some(1), is_new: true, ..Effects::default() })
    }

    pub(crate) async fn change_job(&self, job: &Job) -> Result<Effects, Failure> {
        self.check_types(job).await?;
        let (place, old) = self.find_job(&job.id).await?;
        let changed = Job {
            booked_at: old.booked_at,
            status: old.status,
            started_at: old.started_at,
            finished_at: old.finished_at,
            cancelled_at: old.cancelled_at,
            ..job.clone()
        };
        let mut outcome = self.write_job(place, &changed).await?;
        let (before, after) = (told_job(&old), told_job(&changed));
        outcome.edited = Some(Edited { row: Job::WHAT, before, after });
        Ok(outcome)
    }

    pub(crate) async fn start_job(&self, id: &Id, at: DateTime<Utc>) -> Result<Effects, Failure> {
        let (place, mut job) = self.find_job(id).await?;
        must_be(&job, &[JobStatus::Booked], "started")?;
        must_follow(at, job.booked_at, "booked")?;
        job.status = JobStatus::Started;
        job.started_at = Some(at);
        self.write_job(place, &job).await
    }

    pub(crate) async fn cancel_job(&self, id: &Id, at: DateTime<Utc>) -> Result<Effects, Failure> {
        let (place, mut job) = self.find_job(id).await?;
        must_be(&job, &[JobStatus::Booked, JobStatus::Started], "cancelled")?;
        must_follow(at, job.booked_at, "booked")?;
        job.status = JobStatus::Cancelled;
        job.cancelled_at = Some(at);
        self.write_job(place, &job).await
    }

    /// Ends a job. What it took is written down as pours, those that nobody measured as expected.
    ///
    /// This is what a shop does most, so it asks little: one query each for its products and for
    /// their containers, the job as it was read is written over where it still is that,
    /// and everything else that is written goes out at once.
    pub(crate) async fn finish_job(&self, finish: &Finish) -> Result<Effects, Failure> {
        let (place, job) = (finish.job.place, &finish.job.row);
        self.must_match::<Job>(&job.key(), place.version)?;
        must_be(job, &[JobStatus::Booked, JobStatus::Started], "finished")?;
        must_follow(finish.at, job.booked_at, "booked")?;
        if let Some(started_at) = job.started_at {
            must_follow(finish.at, started_at, "started")?;
        }
        let of_all = finish.pours.iter().map(|pour| &pour.product);
        let of_all: BTreeSet<Id> =
            of_all.chain(finish.expected.iter().map(|pour| &pour.product)).cloned().collect();
        let before = posting::for_job(self, &of_all, &job.id).await?;
        let ended = Job { status: JobStatus::Done, finished_at: Some(finish.at), ..job.clone() };
        let version = sql::overwrite_version(self, place, &ended).await?;
        let mut outcome = Effects { version: Some(version), ..Effects::default() };
        outcome.written.push(job.id.to_string());
        if let Some(before) = before {
            let pours = self.pours_of(finish, &before)?;
            sql::must_be_new(self, &pours).await?;
            let rows: Vec<ShelfRow<'_>> = pours.iter().map(ShelfRow::Pour).collect();
            self.defer_writes();
            let to = (&before.products[..], &before.latest);
            let late =
                posting::post_to(self, &before.shop, to, &rows, EntryMode::Live, &mut outcome)
                    .await?;
            sql::insert(self, &pours).await?;
            self.rebuild_late(&before.shop, late, &mut outcome).await?;
            outcome.written.extend(pours.iter().map(|pour| pour.id.to_string()));
        }
        Ok(outcome)
    }

    /// The measured pours of a job that ends, and the expected ones of the rest.
    fn pours_of(&self, finish: &Finish, before: &Before) -> Result<Vec<Pour>, Failure> {
        let job = &finish.job.row.id;
        let mut pours = Vec::with_capacity(finish.pours.len() + finish.expected.len());
        for pour in &finish.pours {
            if pour.job.as_ref().is_some_and(|other| other != job) {
                return refuse(&format!("job: {job}, or none, in the pours of its end"));
            }
            let at = self.in_turn(pour.at, before.latest.of(&pour.product));
            pours.push(Pour { job: Some(job.clone()), at, ..pour.clone() });
        }
        let measured: HashSet<&Id> = finish.pours.iter().map(|pour| &pour.product).collect();
        for pour in &finish.expected {
            if measured.contains(&pour.product) || before.poured.contains(&pour.product) {
                continue;
            }
            let product = before.products.iter().find(|product| product.id == pour.product);
            let at = self.in_turn(finish.at, before.latest.of(&pour.product));
            pours.extend(product.and_then(|product| self.as_expected(pour, product, finish, at)));
        }
        Ok(pours)
    }

    /// What is told as it happens happens now, when its turn to be written has come: after what
    /// others told a moment later and had written before it.
    fn in_turn(&self, at: DateTime<Utc>, last: Option<When>) -> DateTime<Utc> {
        match last {
            Some((last, _)) if at == self.now && last >= at && last - at < LONGEST_WAIT => {
                last + RESOLUTION
            }
            _ => at,
        }
    }

    /// What a job is taken to have used, as a row: of the mix, where it is used cut.
    fn as_expected(
        &self,
        pour: &ExpectedPour,
        product: &Product,
        finish: &Finish,
        at: DateTime<Utc>,
    ) -> Option<Pour> {
        let unit = match product.unit.dimension() {
            Dimension::Volume => Unit::Ml,
            Dimension::Mass => Unit::G,
            Dimension::Length => Unit::M,
            Dimension::Piece => Unit::Each,
        };
        let number = pour.ratio.mix_of(pour.quantity).in_unit(unit);
        Some(Pour {
            id: self.store.new_id(self.now)?,
            at,
            product: pour.product.clone(),
            amount: Amount { number, unit },
            job: Some(finish.job.row.id.clone()),
            ratio: Some(pour.ratio).filter(|ratio| !ratio.is_neat()),
            container: None,
            method: Some(Method::Expected),
        })
    }

    /// Pours of one job or of none.
    pub(crate) async fn pour(&self, pours: &[Pour]) -> Result<Effects, Failure> {
        let shop = self.the_shop().await?;
        let jobs: BTreeSet<&Id> = pours.iter().filter_map(|pour| pour.job.as_ref()).collect();
        for job in jobs {
            self.must_be_there::<Job>(job).await?;
        }
        sql::must_be_new(self, pours).await?;
        let written = pours.iter().map(|pour| pour.id.to_string()).collect();
        let mut outcome = Effects { written, is_new: true, ..Effects::default() };
        let undone = self.undo_expected(&pours.iter().collect::<Vec<_>>(), &mut outcome).await?;
        let rows: Vec<ShelfRow<'_>> = pours.iter().map(ShelfRow::Pour).collect();
        let mut late = posting::post(self, &shop, &rows, EntryMode::Live, &mut outcome).await?;
        late.extend(undone);
        sql::insert(self, pours).await?;
        self.rebuild_late(&shop, late, &mut outcome).await?;
        Ok(outcome)
    }

    async fn find_job(&self, id: &Id) -> Result<(RowMeta, Job), Failure> {
        let (place, job) = sql::get::<Job>(self, id.as_str()).await?;
        self.must_match::<Job>(id.as_str(), place.version)?;
        Ok((place, job))
    }

    pub(crate) async fn write_job(&self, place: RowMeta, job: &Job) -> Result<Effects, Failure> {
        let version = Some(sql::overwrite(self, place, job).await?);
        Ok(Effects { written: vec![job.id.to_string()], version, ..Effects::default() })
    }

    async fn check_types(&self, job: &Job) -> Result<(), Failure> {
        if job.job_types.is_empty() {
            return refuse("job_types: at least one");
        }
        for job_type in &job.job_types {
            self.must_be_there::<JobType>(job_type).await?;
        }
        Ok(())
    }
}

fn must_be(job: &Job, statuses: &[JobStatus], what: &str) -> Result<(), Failure> {
    if statuses.contains(&job.status) {
        return Ok(());
    }
    let from: Vec<&str> = statuses.iter().map(|status| status.word()).collect();
    let (id, now, from) = (&job.id, job.status.word(), from.join(" or "));
    refuse(&format!("job {id} is {now}: one that is {from} can be {what}"))
}

fn must_follow(at: DateTime<Utc>, before: DateTime<Utc>, what: &str) -> Result<(), Failure> {
    if at >= before {
        return Ok(());
    }
    refuse(&format!("at: not before it was {what}, at {}", before.to_rfc3339()))
}
