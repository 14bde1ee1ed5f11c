//! The model's jobs and orders, and how what was done is undone.

use capful_domain::facts::{Order, OrderLine, OrderStatus};
use capful_domain::{Id, Job, JobStatus};
use capful_store::{AuditAction, Change};
use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::shelf::Event;
use crate::shop::{AuditEntry, Edit, Model, Said, is_of_nothing};

/// What the shop sells.
pub const JOB_TYPE: &str = "wash";
/// Of whom it buys.
pub const SUPPLIER: &str = "dock";

impl Model {
    // ---- jobs

    pub(crate) fn job(&self, id: &Id) -> Result<&(Job, i64), Said> {
        self.jobs.iter().find(|(job, _)| job.id == *id).ok_or(Said::NotFound)
    }

    fn check_types(job: &Job) -> Result<(), Said> {
        if job.job_types.is_empty() {
            return Err(Said::Refused);
        }
        match job.job_types.iter().all(|own| own.as_str() == JOB_TYPE) {
            true => Ok(()),
            false => Err(Said::NotFound),
        }
    }

    pub(crate) fn book(&mut self, job: &Job) -> Result<AuditEntry, Said> {
        Self::check_types(job)?;
        if self.job(&job.id).is_ok() {
            return Err(Said::Conflict);
        }
        self.jobs.push((job.clone(), 1));
        Ok(self.deed(AuditAction::JobBooked, job.id.as_str()))
    }

    /// A job that is read to be written over, at the version that was read where one is named.
    fn read_job(&self, id: &Id, version: Option<i64>) -> Result<Job, Said> {
        let (job, now) = self.job(id)?;
        match version {
            Some(version) if version != *now => Err(Said::Stale),
            _ => Ok(job.clone()),
        }
    }

    fn write_job(&mut self, job: Job) {
        let own = self.jobs.iter_mut().find(|(own, _)| own.id == job.id).unwrap();
        self.read_before.push(own.clone());
        *own = (job, own.1 + 1);
    }

    pub(crate) fn change_job(
        &mut self,
        job: &Job,
        version: Option<i64>,
    ) -> Result<AuditEntry, Said> {
        Self::check_types(job)?;
        let before = self.read_job(&job.id, version)?;
        let after = edited(&before, job);
        let mut deed = self.deed(AuditAction::JobChanged, job.id.as_str());
        deed.edit = Some(Edit::Job(Box::new(before), Box::new(after.clone())));
        self.write_job(after);
        Ok(deed)
    }

    pub(crate) fn start(
        &mut self,
        id: &Id,
        at: DateTime<Utc>,
        version: Option<i64>,
    ) -> Result<AuditEntry, Said> {
        let job = self.read_job(id, version)?;
        if job.status != JobStatus::Booked || at < job.booked_at {
            return Err(Said::Refused);
        }
        self.write_job(Job { status: JobStatus::Started, started_at: Some(at), ..job });
        Ok(self.deed(AuditAction::JobStarted, id.as_str()))
    }

    pub(crate) fn cancel(
        &mut self,
        id: &Id,
        at: DateTime<Utc>,
        version: Option<i64>,
    ) -> Result<AuditEntry, Said> {
        let job = self.read_job(id, version)?;
        let is_open = [JobStatus::Booked, JobStatus::Started].contains(&job.status);
        if !is_open || at < job.booked_at {
            return Err(Said::Refused);
        }
        self.write_job(Job { status: JobStatus::Cancelled, cancelled_at: Some(at), ..job });
        Ok(self.deed(AuditAction::JobCancelled, id.as_str()))
    }

    // ---- orders

    pub(crate) fn order(&self, id: &Id) -> Result<&(Order, i64), Said> {
        self.orders.iter().find(|(order, _)| order.id == *id).ok_or(Said::NotFound)
    }

    pub(crate) fn place(&mut self, order: &Order, lines: &[OrderLine]) -> Result<AuditEntry, Said> {
        if order.supplier.as_str() != SUPPLIER {
            return Err(Said::NotFound);
        }
        if lines.is_empty() || lines.iter().any(|line| line.packs == 0) {
            return Err(Said::Refused);
        }
        let is_known = |line: &OrderLine| self.products.iter().any(|own| own.0.id == line.product);
        if !lines.iter().all(is_known) {
            return Err(Said::NotFound);
        }
        if self.order(&order.id).is_ok() {
            return Err(Said::Conflict);
        }
        self.orders.push((order.clone(), 1));
        self.lines.extend_from_slice(lines);
        Ok(self.deed(AuditAction::OrderPlaced, order.id.as_str()))
    }

    pub(crate) fn set_order(
        &mut self,
        id: &Id,
        status: OrderStatus,
        version: Option<i64>,
    ) -> Result<AuditEntry, Said> {
        let (order, now) = self.order(id)?;
        if version.is_some_and(|version| version != *now) {
            return Err(Said::Stale);
        }
        let before = order.status;
        if before == Some(OrderStatus::Cancelled) && status != OrderStatus::Cancelled {
            return Err(Said::Refused);
        }
        let mut deed = self.deed(AuditAction::OrderChanged, id.as_str());
        deed.edit = Some(Edit::Order(id.clone(), before, Some(status)));
        self.write_order(id, Some(status));
        Ok(deed)
    }

    pub(crate) fn write_order(&mut self, id: &Id, status: Option<OrderStatus>) {
        let (order, version) = self.orders.iter_mut().find(|own| own.0.id == *id).unwrap();
        order.status = status;
        *version += 1;
    }

    // ---- undoing

    pub(crate) fn undo(&mut self, id: Uuid) -> Result<AuditEntry, Said> {
        let place = self.deeds.iter().position(|deed| deed.id == id).ok_or(Said::NotFound)?;
        let deed = self.deeds[place].clone();
        if deed.is_undone {
            return Err(Said::Refused);
        }
        match deed.what {
            AuditAction::JobBooked => self.undo_booking(&deed)?,
            AuditAction::JobChanged => self.undo_job_edit(&deed)?,
            AuditAction::JobStarted => self.reopen(&deed, JobStatus::Started)?,
            AuditAction::JobCancelled => self.reopen(&deed, JobStatus::Cancelled)?,
            AuditAction::JobFinished => {
                self.reopen(&deed, JobStatus::Done)?;
                let nothing = self.pours_of_nothing(&deed.of);
                self.reverse_standing(deed.rows.iter().copied().chain(nothing).collect())?;
            }
            AuditAction::OrderPlaced => self.undo_order(&deed)?,
            AuditAction::OrderChanged => self.undo_status(&deed)?,
            AuditAction::Received if deed.edit.is_some() => {
                self.undo_status(&deed)?;
                self.reverse_standing(deed.rows.clone())?;
            }
            AuditAction::Product => self.undo_product(&deed)?,
            AuditAction::Reversed | AuditAction::Undone => return Err(Said::Refused),
            _ => {
                if self.reverse_standing(deed.rows.clone())? == 0 {
                    return Err(Said::Refused);
                }
            }
        }
        self.deeds[place].is_undone = true;
        Ok(self.deed(AuditAction::Undone, &id.to_string()))
    }

    /// Reverses those of some rows that stand, the last first; gives how many did.
    fn reverse_standing(&mut self, mut rows: Vec<usize>) -> Result<usize, Said> {
        rows.sort_unstable();
        rows.dedup();
        rows.retain(|row| !self.rows[*row].is_reversed);
        for row in rows.iter().rev() {
            self.reverse(*row)?;
        }
        Ok(rows.len())
    }

    fn pours_of_nothing(&self, job: &str) -> Vec<usize> {
        let is_own = |event: &Event| match event {
            Event::Pour(pour) => {
                is_of_nothing(pour) && pour.job.as_ref().is_some_and(|own| own.as_str() == job)
            }
            _ => false,
        };
        let own = self.rows.iter().enumerate();
        let own = own.filter(|(_, row)| !row.is_reversed && is_own(&row.event));
        own.map(|(place, _)| place).collect()
    }

    fn job_of(&self, deed: &AuditEntry) -> Job {
        self.jobs.iter().find(|(job, _)| job.id.as_str() == deed.of).unwrap().0.clone()
    }

    /// A job that is as far as what is undone left it is as far as it was.
    fn reopen(&mut self, deed: &AuditEntry, from: JobStatus) -> Result<(), Said> {
        let job = self.job_of(deed);
        if job.status != from {
            return Err(Said::Refused);
        }
        let before = match job.started_at {
            Some(_) if from != JobStatus::Started => JobStatus::Started,
            _ => JobStatus::Booked,
        };
        let job = Job { status: before, finished_at: None, cancelled_at: None, ..job };
        let started_at = job.started_at.filter(|_| from != JobStatus::Started);
        self.write_job(Job { started_at, ..job });
        Ok(())
    }

    fn undo_booking(&mut self, deed: &AuditEntry) -> Result<(), Said> {
        let job = self.job_of(deed);
        if job.status != JobStatus::Booked || !self.poured_for(&job.id).is_empty() {
            return Err(Said::Refused);
        }
        let cancelled_at = Some(self.now.max(job.booked_at));
        self.write_job(Job { status: JobStatus::Cancelled, cancelled_at, ..job });
        Ok(())
    }

    fn undo_job_edit(&mut self, deed: &AuditEntry) -> Result<(), Said> {
        let Some(Edit::Job(before, after)) = &deed.edit else { return Err(Said::Refused) };
        let job = self.job_of(deed);
        if edited(&job, after) != job {
            return Err(Said::Refused);
        }
        self.write_job(edited(&job, before));
        Ok(())
    }

    fn undo_order(&mut self, deed: &AuditEntry) -> Result<(), Said> {
        let id = Id::parse(&deed.of).unwrap();
        let is_its =
            |event: &Event| matches!(event, Event::Receipt(own) if own.order.as_ref() == Some(&id));
        let is_placed = [None, Some(OrderStatus::Placed)].contains(&self.order(&id)?.0.status);
        if !is_placed || self.standing().any(is_its) {
            return Err(Said::Refused);
        }
        self.write_order(&id, Some(OrderStatus::Cancelled));
        Ok(())
    }

    fn undo_status(&mut self, deed: &AuditEntry) -> Result<(), Said> {
        let Some(Edit::Order(id, before, after)) = &deed.edit else { return Err(Said::Refused) };
        if self.order(id)?.0.status != *after {
            return Err(Said::Refused);
        }
        self.write_order(id, *before);
        Ok(())
    }

    fn undo_product(&mut self, deed: &AuditEntry) -> Result<(), Said> {
        let Some(Edit::Product(before, after)) = &deed.edit else { return Err(Said::Refused) };
        let own = self.products.iter_mut().find(|(own, _)| own.id == after.id).unwrap();
        if own.0 != **after {
            return Err(Said::Refused);
        }
        *own = (before.as_ref().clone(), own.1 + 1);
        Ok(())
    }

    /// A version that is not the one of now.
    pub fn version_of(&self, change: &Change) -> Option<i64> {
        match change {
            Change::Product(own) => {
                self.products.iter().find(|(product, _)| product.id == own.id).map(|own| own.1)
            }
            Change::ChangeJob(Job { id: job, .. })
            | Change::StartJob { job, .. }
            | Change::CancelJob { job, .. } => self.job(job).ok().map(|own| own.1),
            Change::SetOrder { order, .. } => self.order(order).ok().map(|own| own.1),
            _ => None,
        }
    }
}

/// A job with what may be edited of it as in another.
fn edited(job: &Job, edit: &Job) -> Job {
    Job {
        planned_on: edit.planned_on,
        job_types: edit.job_types.clone(),
        size: edit.size,
        condition: edit.condition,
        vehicle: edit.vehicle.clone(),
        price: edit.price,
        ..job.clone()
    }
}
