//! Jobs: one vehicle's visit each.

use chrono::{DateTime, NaiveDate, Utc};

use crate::id::Id;
use crate::money::Money;
use crate::shop::Shop;

/// How large the vehicle is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum VehicleSize {
    /// A city car.
    Small,
    /// The reference.
    Medium,
    /// An SUV.
    Large,
    /// A van or truck.
    Oversize,
}

impl VehicleSize {
    /// From the smallest to the largest.
    pub const ALL: [Self; 4] = [Self::Small, Self::Medium, Self::Large, Self::Oversize];

    /// Place in [`VehicleSize::ALL`].
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }
}

/// How neglected the vehicle is: 1 (well kept) to 5 (neglected).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Condition(u8);

impl Condition {
    /// Grade 3, which usage sheets speak of.
    pub const REFERENCE: Self = Self(3);

    /// From 1 to 5; `None` for any other number.
    #[must_use]
    pub const fn new(grade: u8) -> Option<Self> {
        if grade >= 1 && grade <= 5 { Some(Self(grade)) } else { None }
    }

    /// The grade, 1 to 5.
    #[must_use]
    pub const fn grade(self) -> u8 {
        self.0
    }

    /// The grade from 0.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }

    /// All five.
    pub fn all() -> impl Iterator<Item = Self> {
        (1..=5).map(Self)
    }
}

/// How far a job has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum JobStatus {
    /// Promised.
    Booked,
    /// Under way.
    Started,
    /// Finished.
    Done,
    /// Will not be.
    Cancelled,
}

/// One vehicle's visit: one or more job types.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The shop's own id.
    pub id: Id,
    /// When the booking was made.
    pub booked_at: DateTime<Utc>,
    /// The day the vehicle comes.
    pub planned_on: NaiveDate,
    /// How far it has come.
    pub status: JobStatus,
    /// What is to be done, at least one.
    pub job_types: Vec<Id>,
    /// The vehicle's size.
    pub size: VehicleSize,
    /// The vehicle's condition.
    pub condition: Condition,
    /// When work began.
    pub started_at: Option<DateTime<Utc>>,
    /// When work ended.
    pub finished_at: Option<DateTime<Utc>>,
    /// When it was called off.
    pub cancelled_at: Option<DateTime<Utc>>,
    /// Which vehicle.
    pub vehicle: Option<String>,
    /// What was asked for it.
    pub price: Option<Money>,
}

impl Job {
    /// When a done job ended: `finished_at`, else when it began, else the start of its day.
    #[must_use]
    pub fn ended_at(&self, shop: &Shop) -> DateTime<Utc> {
        self.finished_at.or(self.started_at).unwrap_or_else(|| shop.start_of(self.planned_on))
    }

    /// The status as it stood at a moment, or `None` before the booking was made.
    ///
    /// A row that says `cancelled` and not when counts as cancelled from its booking on.
    #[must_use]
    pub fn status_at(&self, moment: DateTime<Utc>, shop: &Shop) -> Option<JobStatus> {
        if self.booked_at > moment {
            return None;
        }
        let over = |at: Option<DateTime<Utc>>| at.is_none_or(|at| at <= moment);
        Some(match self.status {
            JobStatus::Cancelled if over(self.cancelled_at) => JobStatus::Cancelled,
            JobStatus::Done if self.ended_at(shop) <= moment => JobStatus::Done,
            JobStatus::Started if over(self.started_at) => JobStatus::Started,
            _ if self.started_at.is_some_and(|at| at <= moment) => JobStatus::Started,
            _ => JobStatus::Booked,
        })
    }
}
