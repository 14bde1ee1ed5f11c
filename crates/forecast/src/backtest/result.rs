//! What a backtest says: its wire types, an agreement with whoever reads it. Quantities are product
//! as bought, in the product's own unit; money is of the shop's currency.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;

use crate::plan::{AmountIn, Demand};

/// How the plan would have done in past weeks.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Backtest {
    /// The shop's name.
    pub shop: String,
    /// The day up to which everything is known.
    pub as_of: NaiveDate,
    /// The seed of its plans.
    pub seed: u64,
    /// ISO 4217 code of all money in it.
    pub currency: String,
    /// The first order day that was replayed.
    pub from: NaiveDate,
    /// The day after the last week.
    pub to: NaiveDate,
    /// What counts as taken, and how well that is known, in sentences.
    pub yardstick: String,
    /// The plain forecasts that stand beside the plan.
    pub baselines: Vec<Baseline>,
    /// How well demand was foretold: for each span what is known, then what is estimated.
    pub spans: Vec<SpanScore>,
    /// The same for each product, the worst first; four weeks where there is such a span.
    pub products: Vec<ProductScore>,
    /// What would have come of following the list.
    pub followed: Followed,
    /// Everything that was foretold, week by week.
    pub weeks: Vec<Week>,
}

/// A plain forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Baseline {
    /// Its name in this answer: `sheet`, `moving-average`, `tsb` or `smoothing`.
    pub method: &'static str,
    /// What it does, in a sentence.
    pub text: &'static str,
}

/// How well demand over one span was foretold, over all products and weeks.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SpanScore {
    /// Length of the span.
    pub days: u32,
    /// `known` or `estimated`: how well what was taken is known.
    pub yardstick: &'static str,
    /// Products times weeks that were compared.
    pub cases: u32,
    /// The plan first, then the baselines.
    pub methods: Vec<MethodScore>,
    /// Whether the plan's bands held as much as they said.
    pub bands: Vec<BandScore>,
}

/// How far off one method was. Each product counts in shares of what it usually takes, so that
/// millilitres and pieces can be added up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MethodScore {
    /// `plan`, or the name of a baseline.
    pub method: &'static str,
    /// Mean absolute error, as a share of what was taken.
    pub error: f64,
    /// Mean of what was foretold less what was taken, as a share of what was taken.
    pub bias: f64,
    /// Mean pinball loss of the quantiles that the plan prints (2.5, 10, 25, 50, 75, 90, 95 and
    /// 97.5 %), as a share of what was taken.
    pub pinball: f64,
}

/// Whether a band held as much as it said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BandScore {
    /// 50, 80 or 95: of a hundred futures so many lie in it.
    pub band: u32,
    /// What it said it holds. More than its name where it rests on nothing taken, as then no
    /// future lies below it.
    pub said: f64,
    /// The share of what came that lay in it.
    pub held: f64,
    /// Products times weeks: those of which more than nothing was thought possible.
    pub cases: u32,
}

/// How well one product's demand was foretold.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ProductScore {
    /// The product's id.
    pub product: String,
    /// Length of the spans.
    pub days: u32,
    /// Weeks that were compared, known and estimated.
    pub cases: u32,
    /// Of these, how many are known.
    pub known: u32,
    /// What such a span took on average.
    pub taken: AmountIn,
    /// What the plan foretold for it on average.
    pub foretold: AmountIn,
    /// Mean absolute error of the plan, as a share of what was taken; none where nothing was.
    pub error: Option<f64>,
    /// The same of the sheet.
    pub sheet_error: Option<f64>,
}

/// One week of history.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Week {
    /// The order day; everything is foretold on its morning.
    pub day: NaiveDate,
    /// What was foretold of each product.
    pub products: Vec<Foretold>,
}

/// What was foretold of one product.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Foretold {
    /// The product's id.
    pub product: String,
    /// Its unit.
    pub unit: &'static str,
    /// The spans, shortest first.
    pub spans: Vec<ForetoldSpan>,
}

/// What was foretold of one product over one span.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ForetoldSpan {
    /// Length of the span.
    pub days: u32,
    /// What the plan said.
    pub demand: Demand,
    /// What the plain forecasts said.
    pub baselines: Vec<BaselineForecast>,
    /// What was taken; none where the span is not over yet.
    pub took: Option<Took>,
}

/// What a plain forecast said: a Gaussian about its mean, as wide as its own errors were.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BaselineForecast {
    /// The name of the baseline.
    pub method: &'static str,
    /// What it expected.
    pub mean: f64,
    /// Root mean square of its own errors over such spans in the weeks before.
    pub sd: f64,
}

/// What was taken of a product in a span.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Took {
    /// How much.
    pub amount: f64,
    /// The share of it that records of the span itself show.
    pub known_share: f64,
    /// `known` where that is nine tenths or more, else `estimated`.
    pub yardstick: &'static str,
}

/// What would have come of following the list, beside what the shop did.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Followed {
    /// How many weeks.
    pub weeks: u32,
    /// Had the list been followed.
    pub list: Account,
    /// What the shop itself did, as far as its records tell.
    pub shop: Account,
    /// The orders of the list.
    pub orders: Vec<FollowedOrder>,
    /// The jobs that the list would have let stall.
    pub stalled: Vec<Stalled>,
    /// What is assumed, in sentences.
    pub assumes: &'static str,
}

/// What some weeks cost.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Account {
    /// Orders placed.
    pub orders: u32,
    /// What came in, at cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub goods: Decimal,
    /// Deliveries.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub freight: Decimal,
    /// What went off, at cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub waste: Decimal,
    /// Money and space tied up by the stock.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub holding: Decimal,
    /// Jobs that stalled; none where records do not tell.
    pub stalled_jobs: Option<u32>,
    /// What they cost.
    #[serde(with = "rust_decimal::serde::str_option")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub stalls: Option<Decimal>,
    /// Freight, waste, holding and stalls, as far as they are known.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub avoidable: Decimal,
    /// What stands on the shelf at the end, at cost.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub stock_at_end: Decimal,
}

/// An order that the list would have placed.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FollowedOrder {
    /// The supplier's id.
    pub supplier: String,
    /// The day it is placed.
    pub placed_on: NaiveDate,
    /// The day it comes, as the supplier's orders of that time did.
    pub arrives_on: NaiveDate,
    /// What it costs without the delivery.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub goods: Decimal,
    /// The delivery.
    #[serde(with = "rust_decimal::serde::str")]
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub freight: Decimal,
}

/// A job that would have stalled.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Stalled {
    /// The job's id.
    pub job: String,
    /// The day it was done.
    pub on: NaiveDate,
    /// The first product that it lacked.
    pub product: String,
    /// How much of it.
    pub missing: AmountIn,
}
