//! The shop's settings: its calendar, its money and how it wants to be advised.

use std::collections::BTreeSet;

use chrono::{
    DateTime, Datelike, Days, LocalResult, NaiveDate, NaiveDateTime, TimeZone, Timelike, Utc,
    Weekday,
};
use chrono_tz::Tz;
use rust_decimal::Decimal;

use crate::job::{Condition, VehicleSize};
use crate::money::{Currency, Money};

/// How quantities are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitSystem {
    /// mL, L, g, kg, m.
    Metric,
    /// fl oz, gal, oz, lb, ft (US).
    Us,
}

/// One business site. The fields are those of `shop.toml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// The name on the door.
    pub name: String,
    /// Where days begin and end.
    pub timezone: Tz,
    /// What money is counted in.
    pub currency: Currency,
    /// How quantities are shown.
    pub units: UnitSystem,
    /// The day the weekly order is made.
    pub order_weekday: Weekday,
    /// Weekdays without jobs.
    pub closed: Vec<Weekday>,
    /// Single days without jobs.
    pub closed_days: BTreeSet<NaiveDate>,
    /// The cost of a stalled job where its job type says nothing else.
    pub stall_cost: Money,
    /// A year's cost of money and space, as a share of value.
    pub holding_rate: Decimal,
    /// The least chance that a product lasts from one order to the next.
    pub service: Decimal,
    /// Most to spend on one weekly order; `None`: no limit.
    pub budget: Option<Money>,
    /// How much more each size takes than medium, before anything is learned.
    pub size_factors: [Decimal; 4],
    /// How much more each grade takes than grade 3, before anything is learned.
    pub condition_factors: [Decimal; 5],
}

impl Shop {
    /// A shop with every setting at the value that the shop folder's page shows.
    #[must_use]
    pub fn new(name: &str, timezone: Tz, currency: Currency) -> Self {
        let hundredths = |n: i64| Decimal::new(n, 2).normalize();
        let whole = 10_i64.pow(currency.decimals());
        Self {
            name: name.to_owned(),
            timezone,
            currency,
            units: UnitSystem::Metric,
            order_weekday: Weekday::Mon,
            closed: vec![Weekday::Sun],
            closed_days: BTreeSet::new(),
            stall_cost: Money::from_minor(150 * whole),
            holding_rate: hundredths(25),
            service: hundredths(95),
            budget: None,
            size_factors: [80, 100, 125, 150].map(hundredths),
            condition_factors: [70, 85, 100, 125, 160].map(hundredths),
        }
    }

    /// The factor of a size.
    #[must_use]
    pub fn size_factor(&self, size: VehicleSize) -> Decimal {
        self.size_factors[size.index()]
    }

    /// The factor of a condition grade.
    #[must_use]
    pub fn condition_factor(&self, condition: Condition) -> Decimal {
        self.condition_factors[condition.index()]
    }

    /// Whether jobs are done on this day.
    #[must_use]
    pub fn is_open(&self, day: NaiveDate) -> bool {
        !self.closed.contains(&day.weekday()) && !self.closed_days.contains(&day)
    }

    /// The day in the shop's zone that a moment falls on.
    #[must_use]
    pub fn day_of(&self, moment: DateTime<Utc>) -> NaiveDate {
        moment.with_timezone(&self.timezone).date_naive()
    }

    /// The first moment of a day in the shop's zone (where midnight is skipped, the first that
    /// there is).
    #[must_use]
    pub fn start_of(&self, day: NaiveDate) -> DateTime<Utc> {
        self.moment(day.and_time(chrono::NaiveTime::MIN))
    }

    /// The moment of a local time. A time that the clocks repeat is its first occurrence; one that
    /// they skip is the first moment after the gap.
    #[must_use]
    pub fn moment(&self, local: NaiveDateTime) -> DateTime<Utc> {
        match self.timezone.from_local_datetime(&local) {
            LocalResult::Single(moment) | LocalResult::Ambiguous(moment, _) => moment.to_utc(),
            LocalResult::None => self.after_gap(local),
        }
    }

    fn after_gap(&self, local: NaiveDateTime) -> DateTime<Utc> {
        let minutes = (1..=24 * 60).map(chrono::Duration::minutes);
        let whole = local.with_second(0).and_then(|l| l.with_nanosecond(0)).unwrap_or(local);
        minutes
            .filter_map(|gap| self.timezone.from_local_datetime(&(whole + gap)).earliest())
            .next()
            .map_or_else(|| local.and_utc(), |moment| moment.to_utc())
    }

    /// The first day from `day` on that is `weekday`.
    #[must_use]
    pub fn next_weekday(day: NaiveDate, weekday: Weekday) -> NaiveDate {
        let ahead = weekday.days_since(day.weekday());
        day + Days::new(u64::from(ahead))
    }
}
