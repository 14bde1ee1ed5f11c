//! What kind of shop is simulated.

use chrono::NaiveDate;

/// What a shop writes down beside its jobs, receipts, orders and what it throws away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Habit {
    /// Every pour of every job.
    AllMeasured,
    /// Every pour of half the jobs.
    HalfMeasured,
    /// A count of the whole shelf once a week.
    CountsWeekly,
    /// A count of each product every two to six weeks.
    CountsNowAndThen,
    /// "Opened a new bottle", and nothing else.
    OpeningsOnly,
    /// Some of everything that the shop folder can hold: pours measured, weighed and of mixes,
    /// openings with and without their container, mixes, counts seen, weighed and with sealed ones.
    SomeOfEverything,
    /// Nothing at all.
    Nothing,
}

impl Habit {
    /// Those that write something down, from the most to the least.
    pub const ALL: [Self; 6] = [
        Self::AllMeasured,
        Self::HalfMeasured,
        Self::CountsWeekly,
        Self::CountsNowAndThen,
        Self::SomeOfEverything,
        Self::OpeningsOnly,
    ];
}

/// What stock and stalls cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Economy {
    /// Holding a quarter of the value a year, a stalled job 150.
    Easy,
    /// Holding 60 % a year, everything lives a fifth as long, stalls are half as dear.
    Hard,
}

/// From one week on some products are used otherwise, and stay so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewPad {
    /// The first week of it.
    pub week: u32,
    /// Every so-manieth product.
    pub every: usize,
    /// What it takes, as a share of before.
    pub factor: f64,
}

/// What kind of shop is simulated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recipe {
    /// What it writes down.
    pub habit: Habit,
    /// What stock and stalls cost.
    pub economy: Economy,
    /// Its first day, a Monday.
    pub first_day: NaiveDate,
    /// Weeks for which vehicles are drawn.
    pub weeks: u32,
    /// How many products it keeps.
    pub products: usize,
    /// How many job types it sells.
    pub job_types: usize,
    /// Vehicles a week: drawn between these.
    pub vehicles_a_week: (f64, f64),
    /// The owner's guesses are off by so much: what all share, what a product's share, what is
    /// each pair's own (standard deviations of the logarithm).
    pub guess_sd: [f64; 3],
    /// A lasting change of technique.
    pub new_pad: Option<NewPad>,
    /// The week in which a whole container is spilled and nobody writes it down.
    pub spill_week: Option<u32>,
    /// Whether now and then something is knocked over or found damaged, and written down.
    pub mishaps: bool,
    /// Most to spend on one weekly order, where there is a limit.
    pub budget: Option<u32>,
}

impl Default for Recipe {
    fn default() -> Self {
        Self {
            habit: Habit::CountsNowAndThen,
            economy: Economy::Easy,
            first_day: NaiveDate::from_ymd_opt(2024, 1, 1).unwrap_or_default(),
            weeks: 112,
            products: 28,
            job_types: 12,
            vehicles_a_week: (3.0, 11.0),
            guess_sd: [0.2, 0.2, 0.38],
            new_pad: None,
            spill_week: None,
            mishaps: true,
            budget: None,
        }
    }
}
