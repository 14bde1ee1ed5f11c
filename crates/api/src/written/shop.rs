//! The shop's settings.

use std::collections::BTreeMap;

use capful_domain::{Money, Shop, VehicleSize, Word};
use capful_folder::cells;
use chrono::Weekday;
use rust_decimal::Decimal;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// A shop's settings as they are from now on; what is not there is as the shop folder has it where
/// `shop.toml` says nothing.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ShopBody {
    /// The name on the door.
    #[schema(example = "Two Gulls Detailing", value_type = schema::Line)]
    pub name: String,
    /// Where days begin and end.
    #[schema(example = "America/Halifax", value_type = schema::Zone)]
    pub timezone: String,
    /// ISO 4217 code of all its money. It stays.
    #[schema(example = "CAD", value_type = schema::Currency3)]
    pub currency: String,
    /// How quantities are shown: `metric` or `us`.
    #[schema(value_type = Option<schema::UnitsWord>)]
    pub units: Option<String>,
    /// The day the weekly order is made, such as `mon`.
    #[schema(value_type = Option<schema::WeekdayWord>)]
    pub order_weekday: Option<String>,
    /// Weekdays without jobs, six at most.
    #[schema(value_type = Option<Vec<schema::WeekdayWord>>, max_items = 6)]
    pub closed: Option<Vec<String>>,
    /// Single days without jobs.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Day>)]
    pub closed_days: Vec<String>,
    /// One stalled job, where its job type says nothing else.
    #[schema(value_type = Option<schema::Money>)]
    pub stall_cost: Option<Number>,
    /// A year's cost of money and space, as a share of value.
    #[schema(value_type = Option<schema::NotNegative>)]
    pub holding_rate: Option<Number>,
    /// The chance that a product lasts from one order to the next, at least.
    #[schema(value_type = Option<schema::Chance>)]
    pub service: Option<Number>,
    /// Most to spend on one weekly order; without it, or 0: no limit.
    #[schema(value_type = Option<schema::Money>)]
    pub budget: Option<Number>,
    /// How much more a size takes than medium: `small`, `medium`, `large`, `oversize`.
    #[serde(default)]
    #[schema(value_type = schema::SizeFactors)]
    pub sizes: BTreeMap<String, Number>,
    /// How much more a grade takes than grade 3: `1` to `5`.
    #[serde(default)]
    #[schema(value_type = schema::ConditionFactors)]
    pub conditions: BTreeMap<String, Number>,
}

impl ShopBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Shop> {
        let name = reader.read("name", &self.name, cells::text);
        let timezone = reader.read("timezone", &self.timezone, cells::timezone);
        let currency = reader.read("currency", &self.currency, cells::currency);
        let own = reader.shop().currency;
        if currency.is_some_and(|currency| currency != own) {
            let expected = format!("{own}: prices are in it, it stays");
            reader.wrong("currency", &self.currency, &expected);
        }
        let mut shop = Shop::new(&name.unwrap_or_default(), timezone?, currency?);
        let units = reader.word("units", self.units.as_ref());
        let weekday = reader.word("order_weekday", self.order_weekday.as_ref());
        let closed = self.closed(reader);
        let days = reader.texts("closed_days", &self.closed_days, cells::day);
        let stall_cost = reader.maybe_money("stall_cost", self.stall_cost.as_ref());
        let rate = self.holding_rate.as_ref();
        let holding_rate = reader.maybe("holding_rate", rate, cells::decimal);
        let service = reader.maybe("service", self.service.as_ref(), cells::chance);
        let budget = reader.maybe_money("budget", self.budget.as_ref());
        shop.units = units.unwrap_or(shop.units);
        shop.order_weekday = weekday.unwrap_or(shop.order_weekday);
        shop.closed = closed.unwrap_or(shop.closed);
        shop.closed_days = days.into_iter().collect();
        shop.stall_cost = stall_cost.unwrap_or(shop.stall_cost);
        shop.holding_rate = holding_rate.unwrap_or(shop.holding_rate);
        shop.service = service.unwrap_or(shop.service);
        shop.budget = budget.filter(|budget| *budget != Money::ZERO);
        let sizes = VehicleSize::ALL.map(Word::word);
        factors(reader, "sizes", &self.sizes, &sizes, &mut shop.size_factors);
        let grades = ["1", "2", "3", "4", "5"];
        factors(reader, "conditions", &self.conditions, &grades, &mut shop.condition_factors);
        Some(shop)
    }

    fn closed(&self, reader: &mut Reader<'_>) -> Option<Vec<Weekday>> {
        let closed = reader.texts("closed", self.closed.as_ref()?, cells::word::<Weekday>);
        // Seven of them are every day, or name one twice.
        if self.closed.as_ref().is_some_and(|days| days.len() >= Weekday::WORDS.len()) {
            reader.wrong("closed", "all of them", "six weekdays at most, one left open");
        }
        Some(closed)
    }
}

fn factors(
    reader: &mut Reader<'_>,
    field: &str,
    given: &BTreeMap<String, Number>,
    names: &[&str],
    factors: &mut [Decimal],
) {
    for name in given.keys().filter(|name| !names.contains(&name.as_str())) {
        reader.wrong(field, name, &format!("one of {}", names.join(", ")));
    }
    for (name, factor) in names.iter().zip(factors) {
        let text = given.get(*name);
        let read = reader.maybe(&format!("{field}.{name}"), text, cells::decimal_above_zero);
        *factor = read.unwrap_or(*factor);
    }
}
