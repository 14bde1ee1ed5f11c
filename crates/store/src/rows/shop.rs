//! The shop's settings.

use std::str::FromStr;

use capful_domain::{Currency, Money, Shop, Word};
use chrono::NaiveDate;
use chrono_tz::Tz;
use rust_decimal::Decimal;

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("shop", {
    name: String,
    timezone: String,
    currency: String,
    units: String,
    order_weekday: String,
    closed: String,
    closed_days: String,
    stall_cost: i64,
    holding_rate: String,
    service: String,
    budget: Option<i64>,
    size_factors: String,
    condition_factors: String,
    version: i64,
});

impl sealed::Sealed for Shop {}

impl Stored for Shop {
    const WHAT: &'static str = "shop";
    const HAS_KEY: bool = false;
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        self.name.clone()
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            name: self.name.clone(),
            timezone: self.timezone.name().to_owned(),
            currency: self.currency.code().to_owned(),
            units: self.units.word().to_owned(),
            order_weekday: self.order_weekday.word().to_owned(),
            closed: text::list_text(self.closed.iter().map(|day| day.word())),
            closed_days: text::list_text(&self.closed_days),
            stall_cost: self.stall_cost.minor(),
            holding_rate: self.holding_rate.to_string(),
            service: self.service.to_string(),
            budget: self.budget.map(Money::minor),
            size_factors: text::list_text(self.size_factors),
            condition_factors: text::list_text(self.condition_factors),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let timezone = Tz::from_str(&row.timezone);
        let timezone = timezone.map_err(|_| Unreadable::new("a time zone", &row.timezone))?;
        let currency = Currency::parse(&row.currency);
        let currency = currency.ok_or_else(|| Unreadable::new("a currency", &row.currency))?;
        let days = text::list(&row.closed_days, |day| text::parsed::<NaiveDate>("a day", day))?;
        let shop = Self {
            units: text::word(&row.units)?,
            order_weekday: text::word(&row.order_weekday)?,
            closed: text::list(&row.closed, text::word)?,
            closed_days: days.into_iter().collect(),
            stall_cost: Money::from_minor(row.stall_cost),
            holding_rate: text::decimal(&row.holding_rate)?,
            service: text::decimal(&row.service)?,
            budget: row.budget.map(Money::from_minor),
            size_factors: factors(&row.size_factors)?,
            condition_factors: factors(&row.condition_factors)?,
            ..Self::new(&row.name, timezone, currency)
        };
        let place = RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, shop))
    }
}

fn factors<const N: usize>(text: &str) -> Result<[Decimal; N], Unreadable> {
    let list = text::list(text, text::decimal)?;
    list.try_into().map_err(|_| Unreadable::new("a list of factors", text))
}
