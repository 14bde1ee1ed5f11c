//! The shop's settings, each with a sentence on what it does.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Money, Shop, UnitSystem, Word};
use capful_folder::cells;
use capful_store::Change;
use chrono::Weekday;
use serde_json::{Map, Value};

use super::entry::{Entries, Entry, words_of};
use super::saving::{Editing, save, with_points};
use crate::api::Api;
use crate::known::known;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page_of;
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::Problem;
use crate::written::{Reader, ShopBody};

const NAMES: [&str; 8] = [
    "name",
    "timezone",
    "units",
    "order_weekday",
    "stall_cost",
    "holding_rate",
    "service",
    "budget",
];
const SIZES: [&str; 4] = ["sizes.small", "sizes.medium", "sizes.large", "sizes.oversize"];
const CONDITIONS: [&str; 5] =
    ["conditions.1", "conditions.2", "conditions.3", "conditions.4", "conditions.5"];

#[derive(Template)]
#[template(path = "setup/shop.html")]
struct ShopPage {
    frame: Frame,
    editing: Editing,
    parts: Vec<(String, Vec<Entry>)>,
    currency: &'static str,
    zones: Vec<&'static str>,
}

/// `GET /setup/shop`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let (fields, version) = there(&api, &visitor).await?;
    shown(&api, &visitor, Editing::of(fields, version)).await
}

/// The settings as they are saved, and their version.
async fn there(api: &Api, visitor: &Visitor) -> Result<(Fields, i64), Problem> {
    let listed = api.store.shop(visitor.caller.shop).await?;
    Ok((fields_of(&listed.row), listed.place.version))
}

fn fields_of(shop: &Shop) -> Fields {
    let mut fields = Fields::default();
    let money = |money: Money| money.to_decimal(shop.currency).to_string();
    fields.set("name", &shop.name);
    fields.set("timezone", shop.timezone.name());
    fields.set("units", shop.units.word());
    fields.set("order_weekday", shop.order_weekday.word());
    fields.set("stall_cost", money(shop.stall_cost));
    fields.set("holding_rate", shop.holding_rate.to_string());
    fields.set("service", shop.service.to_string());
    fields.set("budget", shop.budget.map(money).unwrap_or_default());
    for day in &shop.closed {
        fields.add("closed", day.word());
    }
    for day in &shop.closed_days {
        fields.add("closed_days", cells::write_day(*day));
    }
    for (name, factor) in SIZES.iter().zip(shop.size_factors) {
        fields.set(name, factor.to_string());
    }
    for (name, factor) in CONDITIONS.iter().zip(shop.condition_factors) {
        fields.set(name, factor.to_string());
    }
    fields
}

async fn shown(api: &Api, visitor: &Visitor, editing: Editing) -> Result<Response, Problem> {
    let title = words().say("setup-shop");
    let frame = Frame::of(api, visitor, Place::More, title, "/setup/shop").await?;
    let currency = known(api, &visitor.caller).await?.shop.currency.code();
    let zones = chrono_tz::TZ_VARIANTS.iter().map(|zone| zone.name()).collect();
    let parts = parts(&editing);
    page_of(editing.status(), &ShopPage { frame, editing, parts, currency, zones })
}

fn parts(editing: &Editing) -> Vec<(String, Vec<Entry>)> {
    let weekdays: Vec<&str> = Weekday::WORDS.iter().map(|day| day.0).collect();
    let weekdays = words_of("weekday", &weekdays);
    let units = words_of("units", &[UnitSystem::Metric.word(), UnitSystem::Us.word()]);
    let of = || Entries::of("shop", editing);
    let door = of().must("name").must("timezone").choice("units", &units);
    let calendar = of().choice("order_weekday", &weekdays).ticks("closed", &weekdays);
    let calendar = calendar.long("closed_days");
    let advice = of().must_number("stall_cost").must_number("service");
    let advice = advice.must_number("holding_rate").number("budget");
    let sizes = SIZES.into_iter().fold(of(), Entries::must_number);
    let conditions = CONDITIONS.into_iter().fold(of(), Entries::must_number);
    let part = |name: &str, entries: Entries<'_>| (words().say(name).to_string(), entries.end());
    vec![
        part("shop-part-door", door),
        part("shop-part-calendar", calendar),
        part("shop-part-advice", advice),
        part("shop-part-sizes", sizes),
        part("shop-part-conditions", conditions),
    ]
}

/// `POST /setup/shop`
pub(crate) async fn post(
    State(api): State<Api>,
    Owner(visitor): Owner,
    mut form: Form,
) -> Result<Response, Problem> {
    match saved(&api, &visitor, &mut form).await {
        Err(wrong) => {
            let now = there(&api, &visitor).await?;
            let editing = Editing::again(&form, wrong, Some(now))?;
            shown(&api, &visitor, editing).await
        }
        done => done,
    }
}

async fn saved(api: &Api, visitor: &Visitor, form: &mut Form) -> Result<Response, Problem> {
    with_points(&mut form.fields, &["stall_cost", "holding_rate", "service", "budget"]);
    with_points(&mut form.fields, &SIZES);
    with_points(&mut form.fields, &CONDITIONS);
    let known = known(api, &visitor.caller).await?;
    let body = body(&form.fields, known.shop.currency.code())?;
    let mut reader = Reader::new(api, &known, api.now());
    let shop = body.read(&mut reader);
    let change = Change::Shop(Box::new(reader.end(shop)?));
    save(api, form, &change, "/setup").await
}

fn body(fields: &Fields, currency: &str) -> Result<ShopBody, Problem> {
    let mut body: Map<String, Value> = fields.body(&NAMES, &["closed"])?;
    let days = fields.all("closed_days");
    let days = days.flat_map(|text| text.split([',', ';', ' ', '\n', '\r', '\t']));
    let days: Vec<&str> = days.filter(|day| !day.is_empty()).collect();
    body.insert("closed_days".to_owned(), days.into());
    body.insert("currency".to_owned(), currency.into());
    for (group, names) in [("sizes", &SIZES[..]), ("conditions", &CONDITIONS)] {
        let factors = names.iter().filter_map(|name| {
            let (_, word) = name.split_once('.')?;
            Some((word.to_owned(), Value::from(fields.text(name)?)))
        });
        body.insert(group.to_owned(), Value::Object(factors.collect()));
    }
    for name in ["name", "timezone"] {
        body.entry(name).or_insert_with(|| "".into());
    }
    serde_json::from_value(body.into()).map_err(|error| Problem::field("name", error.to_string()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_domain::{Currency, VehicleSize};

    use super::*;

    #[test]
    fn the_settings_come_back_as_they_were_shown() {
        let zone = "America/Halifax".parse().unwrap();
        let mut shop = Shop::new("Two Gulls", zone, Currency::parse("CAD").unwrap());
        shop.closed_days = ["2026-12-25".parse().unwrap()].into();
        let body = body(&fields_of(&shop), "CAD").unwrap();
        assert_eq!(body.closed.unwrap(), ["sun"]);
        assert_eq!(body.closed_days, ["2026-12-25"]);
        assert_eq!(&*body.sizes["large"], "1.25");
        assert_eq!(body.sizes.len() + body.conditions.len(), VehicleSize::ALL.len() + 5);
    }
}
