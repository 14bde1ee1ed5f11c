//! The plan: everything advised on one day, each line with its reason.
//!
//! These are the wire types: the names and shapes of the fields are an agreement with whoever
//! reads the plan. Quantities are product as bought, in the product's own unit.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;

/// Everything advised on one day.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Plan {
    /// The shop's name.
    pub shop: String,
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// The seed of its futures.
    pub seed: u64,
    /// ISO 4217 code of all money in it.
    pub currency: String,
    /// What to buy this week.
    pub weekly_order: WeeklyOrder,
    /// Each product's stock, demand and order levels.
    pub products: Vec<ProductOutlook>,
    /// Containers near their use-by, or that will not be finished before it; soonest first.
    pub going_off: Vec<GoingOff>,
    /// Each booked job, by its day.
    pub readiness: Vec<JobReadiness>,
    /// What jobs take, as learned.
    pub usage: Vec<UsageRow>,
    /// What the reader should know before relying on it.
    pub warnings: Vec<Warning>,
}

/// A quantity in a unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AmountIn {
    /// How much, to three decimals.
    pub amount: f64,
    /// The product's unit.
    pub unit: &'static str,
}

/// What to buy this week, by supplier.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WeeklyOrder {
    /// One for each supplier to order from.
    pub orders: Vec<SupplierOrder>,
    /// Goods and freight of them all.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub total: Decimal,
    /// Suppliers that can wait, and why.
    pub waiting: Vec<WaitingSupplier>,
}

/// An order to place with one supplier.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SupplierOrder {
    /// The supplier's id.
    pub supplier: String,
    /// The last day to place it.
    pub place_by: NaiveDate,
    /// When it will be on the shelf.
    pub arrives: Arrives,
    /// What the lines cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub goods: Decimal,
    /// What the delivery costs.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub freight: Decimal,
    /// Both.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub total: Decimal,
    /// What to buy, the most pressing first.
    pub lines: Vec<OrderLine>,
    /// Why now, in a sentence.
    pub why: String,
}

/// Days by which an order has come with a chance of one half and of nine in ten.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[allow(missing_docs)]
pub struct Arrives {
    pub p50: NaiveDate,
    pub p90: NaiveDate,
}

/// One product to buy.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderLine {
    /// The product's id.
    pub product: String,
    /// How many packs.
    pub packs: u32,
    /// How many containers that makes.
    pub containers: u32,
    /// What they cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub cost: Decimal,
    /// Chance that some job stalls for it before the next order after this one could arrive, if
    /// it is not ordered.
    pub stall_chance_without: f64,
    /// The same, if it is.
    pub stall_chance_with: f64,
    /// Money expected to go off unused because of this line.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub expected_waste: Decimal,
    /// The reason, in sentences whose numbers add up.
    pub why: String,
    /// The supplier's code.
    pub code: Option<String>,
    /// What the reason is made of.
    pub parts: LineParts,
    /// What other numbers of packs come to, as far as they were tried: none first, rising.
    pub tried: Vec<PacksTried>,
}

/// What a number of packs of a line comes to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PacksTried {
    /// How many packs.
    pub packs: u32,
    /// Chance that some job stalls for the product, as `stall_chance_with` of the line.
    pub stall_chance: f64,
    /// Money expected to go off unused because of them.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub expected_waste: Decimal,
}

impl OrderLine {
    /// What this many packs come to: what was tried of it, or the nearest fewer and the nearest
    /// more that were. There is no more beyond the most that was tried.
    #[must_use]
    pub fn tried_about(&self, packs: u32) -> (Option<&PacksTried>, Option<&PacksTried>) {
        let fewer = self.tried.iter().rfind(|tried| tried.packs <= packs);
        let more = self.tried.iter().find(|tried| tried.packs >= packs);
        (fewer, more)
    }
}

/// What an order line's reason is made of, from `from` on. Each of these adds up as it is printed:
///
/// * `booked + not_booked + lead_time + safety = reorder_point`
/// * `reorder_point + to_last = order_up_to`
/// * `order_up_to + goes_off − on_hand − on_order = missing`
/// * `missing + beyond = bought`
///
/// [`sum`](Self::sum) gives them in that order.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LineParts {
    /// First day.
    pub from: NaiveDate,
    /// The day on which the order after this one is usually there (in half of the futures): no
    /// order now can help later than that.
    pub to: NaiveDate,
    /// The same with a chance of nine in ten.
    pub late_to: NaiveDate,
    /// Booked jobs before `to` that take it.
    pub booked_jobs: u32,
    /// What they take on average.
    pub booked: AmountIn,
    /// What jobs not booked yet take on average before `to`.
    pub not_booked: AmountIn,
    /// What it changes that deliveries come earlier or later than usual.
    pub lead_time: AmountIn,
    /// How much above average to be ready for, at the shop's `service`, if they come as usual.
    pub safety: AmountIn,
    /// The four together.
    pub reorder_point: AmountIn,
    /// What to have beyond that for this order to last until `up_to_day`.
    pub to_last: AmountIn,
    /// Both: an order brings the stock back to about this.
    pub order_up_to: AmountIn,
    /// The day by which a later order is there, if this one lasts as long as it is meant to.
    pub up_to_day: NaiveDate,
    /// What goes off on average before `up_to_day` of what is there and on its way.
    pub goes_off: AmountIn,
    /// What can be used now.
    pub on_hand: AmountIn,
    /// What is on its way.
    pub on_order: AmountIn,
    /// What is missing up to `order_up_to`; negative where more is there.
    pub missing: AmountIn,
    /// What is bought beyond that; negative where it is less. The packs are those that cost least
    /// over all futures, and they are whole.
    pub beyond: AmountIn,
    /// What the packs of the line hold.
    pub bought: AmountIn,
}

/// A supplier that nothing is ordered from this week.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WaitingSupplier {
    /// The supplier's id.
    pub supplier: String,
    /// Why it can wait.
    pub why: String,
}

/// A product's stock, demand and order levels.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ProductOutlook {
    /// The product's id.
    pub product: String,
    /// What can be used: containers past their use-by are not in it.
    pub on_hand: AmountIn,
    /// Ordered and not here yet.
    pub on_order: AmountIn,
    /// On hand plus on order at which it must be ordered now.
    pub reorder_point: AmountIn,
    /// What the order brings on hand plus on order back to.
    pub order_up_to: AmountIn,
    /// From placing an order to having it on the shelf.
    pub lead_days: LeadDays,
    /// What jobs will take over the next two weeks.
    pub demand: Demand,
    /// Days until what is on hand is used up or gone off.
    pub cover_days: CoverDays,
    /// Whether it lasts at least as long as `cover_days.p50`: the planner looks no further ahead.
    pub cover_is_at_least: bool,
    /// How many days the planner looks ahead.
    pub horizon_days: u32,
    /// What is on the shelf past its use-by.
    pub past_use_by: AmountIn,
    /// What jobs will take over other spans, shortest first.
    pub demand_ahead: Vec<Demand>,
}

/// Lead time in days.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[allow(missing_docs)]
pub struct LeadDays {
    pub mean: f64,
    pub p90: f64,
}

/// What jobs take between `from` and the day before `to`, in the product's unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[allow(missing_docs)]
pub struct Demand {
    pub from: NaiveDate,
    pub to: NaiveDate,
    pub mean: f64,
    pub sd: f64,
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
    pub p95: f64,
    /// Ends of the bands that hold 50, 80 and 95 of 100 futures.
    pub bands: Bands,
}

/// Ends of the bands that hold 50, 80 and 95 of 100 futures.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[allow(missing_docs)]
pub struct Bands {
    pub p2_5: f64,
    pub p25: f64,
    pub p75: f64,
    pub p97_5: f64,
}

/// Days until the shelf is bare; not past the planner's horizon.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[allow(missing_docs)]
pub struct CoverDays {
    pub p10: u32,
    pub p50: u32,
    pub p90: u32,
}

/// A container that is near its use-by, or will not be finished before it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GoingOff {
    /// The container's id.
    pub container: String,
    /// The product's id.
    pub product: String,
    /// Its lot's batch code, else the receipt that brought it.
    pub lot: String,
    /// `sealed` or `open`.
    pub state: &'static str,
    /// The ratio, where it is a mix: parts of water to one part of product.
    pub water: Option<f64>,
    /// What is left in it.
    pub left: AmountIn,
    /// The last day it is good.
    pub use_by: NaiveDate,
    /// Days from the plan's day to it; negative once it is past.
    pub days_left: i64,
    /// What will be left of it on average when it goes off.
    pub expected_waste: AmountIn,
    /// What that cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub waste_cost: Decimal,
    /// What to do with it.
    pub advice: String,
}

/// Whether the shelf carries a booked job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JobReadiness {
    /// The job's id.
    pub job: String,
    /// Its day.
    pub planned_on: NaiveDate,
    /// The chance that the shelf carries it from start to finish.
    pub ready_chance: f64,
    /// What it may lack, the likeliest first.
    pub short_of: Vec<ShortOf>,
    /// What products that are not in `short_of`, as each alone is lacked too seldom, take of
    /// `1 − ready_chance`: their `not_ready` together.
    pub not_ready_others: f64,
    /// What to put on the bench.
    pub set_out: Vec<SetOut>,
}

/// What a job may lack.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ShortOf {
    /// The product's id.
    pub product: String,
    /// The chance that there is too little.
    pub chance: f64,
    /// How much is missing then, on average.
    pub missing: AmountIn,
    /// The product to use instead, if one is on the shelf.
    pub substitute: Option<String>,
    /// Its part of `1 − ready_chance`. A future in which the job lacks several products, and no
    /// substitute serves, counts once and in equal parts for each of them; so the parts of all
    /// products and `not_ready_others` add up.
    pub not_ready: f64,
    /// What the chance is made of.
    pub parts: ShortParts,
}

/// What a job may lack of a product, in parts: averages over the futures in which the job comes.
/// `on_hand + books_off + Σ coming.average − booked − not_booked − goes_off − other_ratio − takes =
/// left` and `left − swing = least`, as they are printed; [`sum`](Self::sum) gives them in that
/// order. The job lacks some where the like of `left` is below nothing in a future.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ShortParts {
    /// What can be used now.
    pub on_hand: AmountIn,
    /// What is there beyond the books, as far as is known; negative where it is less.
    pub books_off: AmountIn,
    /// What is on its way, line by line.
    pub coming: Vec<ComesBefore>,
    /// Booked jobs before it that take the product.
    pub booked_jobs: u32,
    /// What they take.
    pub booked: AmountIn,
    /// What jobs not booked yet take before it.
    pub not_booked: AmountIn,
    /// What goes off before it.
    pub goes_off: AmountIn,
    /// What stands mixed at a ratio that the job cannot use.
    pub other_ratio: AmountIn,
    /// What the job itself takes.
    pub takes: AmountIn,
    /// What is left over then; negative where it is missing.
    pub left: AmountIn,
    /// How much less it is in the tenth of the futures in which least is left.
    pub swing: AmountIn,
    /// What is left over in these on average; negative where it is missing.
    pub least: AmountIn,
}

/// A line on order, as far as it is there in time for a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComesBefore {
    /// The order's id.
    pub order: String,
    /// What is still to come of it.
    pub holds: AmountIn,
    /// The chance that it is there in time.
    pub chance: f64,
    /// The one times the other.
    pub average: AmountIn,
}

/// A container to put on the bench.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SetOut {
    /// The product's id.
    pub product: String,
    /// The container's id.
    pub container: String,
    /// What the job takes from it on average.
    pub expect: AmountIn,
    /// What nine of ten such jobs stay below.
    pub up_to: AmountIn,
    /// Parts of water to one part of product, where it is cut.
    pub water: Option<f64>,
}

/// What one job type takes of one product.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct UsageRow {
    /// The job type's id.
    pub job_type: String,
    /// The product's id.
    pub product: String,
    /// `small`, `medium`, `large` or `oversize`.
    pub size: &'static str,
    /// 1 to 5.
    pub condition: u8,
    /// What one job takes on average, jobs that take none included.
    pub mean: f64,
    /// Standard deviation from job to job.
    pub sd: f64,
    /// The true mean is above this with a chance of nine in ten.
    pub mean_p10: f64,
    /// The true mean is below this with a chance of nine in ten.
    pub mean_p90: f64,
    /// How often it is used at all.
    pub share_of_jobs: f64,
    /// What the owner's sheet says; 0 where the pair is not on it.
    pub sheet: f64,
    /// Done jobs of this type that the estimate rests on, any size and condition.
    pub jobs_seen: u32,
}

/// What the reader should know before relying on the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Warning {
    /// A stable word for programs.
    pub code: &'static str,
    /// The product it is about.
    pub product: Option<String>,
    /// What is the matter and what to do.
    pub text: String,
}
