//! The end of a job in two taps: what it took is filled in as expected, and any of it can be
//! changed.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{ExpectedPour, Id, Job, JobStatus, Product};
use capful_store::Effects;
use rust_decimal::Decimal;

use super::amounts::{Measure, measure, measures};
use super::form::{Fields, Form};
use super::frame::{Frame, Measures, Place};
use super::names::job_name;
use super::say::words;
use super::shown::{lead_to, led, page_of, status_of};
use super::visitor::Visitor;
use crate::api::Api;
use crate::known::{Known, known};
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};
use crate::routes::write::jobs::Ending;
use crate::written::FinishBody;

#[derive(Template)]
#[template(path = "finish.html")]
struct FinishPage {
    frame: Frame,
    job: String,
    name: String,
    what: String,
    lines: Vec<Line>,
    /// Products that are not on its sheet.
    others: Vec<(String, String)>,
    fields: Fields,
    wrong: Option<Problem>,
}

/// A product that the job takes.
struct Line {
    product: String,
    name: String,
    /// What is filled in, and what was expected.
    quantity: String,
    was: String,
    measure: &'static str,
    was_measure: &'static str,
    measures: &'static [Measure],
    step: &'static str,
    /// Parts of water of the mix that is spoken of.
    water: String,
    protection: String,
}

/// `GET /jobs/{id}/finish`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    Named(id): Named,
) -> Result<Response, Problem> {
    shown(&api, &visitor, &id, Fields::default(), None).await
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    fields: Fields,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let job = api.store.get::<Job>(visitor.caller.shop, id.as_str()).await?.row;
    if !matches!(job.status, JobStatus::Booked | JobStatus::Started) {
        let text = words().say("finish-not-open").with("job", id).to_string();
        return Err(Problem::new(Kind::Refused, text));
    }
    // As it will be when it ends now: what is expected of it hangs on how far it is from others.
    let ended = Job { finished_at: Some(api.now()), status: JobStatus::Done, ..job.clone() };
    let expected = known.expected_for(api, &visitor.caller, &ended).await?;
    let poured = api.store.poured_for(visitor.caller.shop, id).await?;
    let mut lines = Vec::new();
    let asked_for = expected.into_iter().filter(|pour| !poured.contains(&pour.product));
    for pour in together(asked_for) {
        let own = known.products.get(&pour.product);
        lines.extend(own.map(|product| line(&pour, lines.len(), product, &known, &fields)));
    }
    let is_listed =
        |product: &&Product| lines.iter().any(|line| line.product == product.id.as_str());
    let others = known.products.values().filter(|product| !is_listed(product));
    let others = others.map(|product| (product.id.to_string(), product.name.clone())).collect();
    let status = status_of(&wrong);
    let name = job_name(&job);
    let title = words().say("finish-title").with("job", &name);
    let path = format!("/jobs/{}/finish", segment(id));
    let frame = Frame::of(api, visitor, Place::Today, title, path).await?;
    let types = job.job_types.iter().map(|id| known.job_type_name(id)).collect::<Vec<_>>();
    let (job, what) = (id.to_string(), types.join(", "));
    page_of(status, &FinishPage { frame, job, name, what, lines, others, fields, wrong })
}

/// What several job types take of one product at one ratio is poured, and asked for, once.
fn together(expected: impl Iterator<Item = ExpectedPour>) -> Vec<ExpectedPour> {
    let mut all: Vec<ExpectedPour> = Vec::new();
    for pour in expected {
        let alike =
            |own: &&mut ExpectedPour| own.product == pour.product && own.ratio == pour.ratio;
        match all.iter_mut().find(alike) {
            Some(own) => own.quantity += pour.quantity,
            None => all.push(pour),
        }
    }
    all
}

/// What a product is expected to be taken of, as it was sent before where it was: in the same
/// place, if what is expected has not changed since.
fn line(
    pour: &ExpectedPour,
    place: usize,
    product: &Product,
    known: &Known,
    fields: &Fields,
) -> Line {
    let units = Measures::of(&known.shop).units();
    let all = measures(product.unit.dimension(), units);
    let first = all.first().copied().or_else(|| measure("each"));
    let was_measure = first.map_or("each", |first| first.word);
    let was = first.map(|first| first.of(pour.ratio.mix_of(pour.quantity))).unwrap_or_default();
    let is_own = |own: &str| own == product.id.as_str();
    let same = fields.all("product").nth(place).filter(|own| is_own(own)).map(|_| place);
    let place = same.or_else(|| fields.all("product").position(is_own));
    let sent = |name| place.and_then(|place| fields.all(name).nth(place));
    let chosen = sent("measure").and_then(measure).or(first);
    Line {
        product: product.id.to_string(),
        name: product.name.clone(),
        quantity: sent("quantity").unwrap_or(&was).to_owned(),
        was,
        measure: chosen.map_or(was_measure, |chosen| chosen.word),
        was_measure,
        measures: all,
        step: chosen.map_or("1", |chosen| chosen.step),
        water: if pour.ratio.is_neat() { String::new() } else { pour.ratio.water().to_string() },
        protection: product.protection.join(", "),
    }
}

/// `POST /jobs/{id}/finish`
pub(crate) async fn post(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    match end(&api, &id, &form).await {
        Err(wrong) if wrong.field.is_some() => {
            shown(&api, &form.visitor, &id, form.fields.clone(), Some(wrong)).await
        }
        other => other,
    }
}

async fn end(api: &Api, id: &Id, form: &Form) -> Result<Response, Problem> {
    let caller = &form.visitor.caller;
    let known = known(api, caller).await?;
    let body = body(&form.fields)?;
    let ending = Ending { caller, known: &known, id, body: &body };
    let answer = |_: &Job, outcome: &Effects| lead_to("/", outcome);
    Ok(led(&ending.end(api, &form.asked(api), answer).await?))
}

/// What was changed of the expected amounts was measured; what was not is as expected. A product
/// that stands on several lines was measured on all of them where it was on one.
fn body(fields: &Fields) -> Result<FinishBody, Problem> {
    let column = |name| fields.all(name).collect::<Vec<_>>();
    let (products, quantities, words) = (column("product"), column("quantity"), column("measure"));
    let (was, was_words, waters) = (column("was"), column("was_measure"), column("water"));
    let at = |list: &[&str], index: usize| list.get(index).copied().unwrap_or_default().to_owned();
    let is_changed = |index: &usize| {
        let (quantity, word) = (at(&quantities, *index), at(&words, *index));
        let is_same = quantity == at(&was, *index) && word == at(&was_words, *index);
        !(is_same || quantity.is_empty())
    };
    let changed: BTreeSet<&str> =
        (0..products.len()).filter(is_changed).map(|index| products[index]).collect();
    let mut pours = Vec::new();
    for (index, product) in products.iter().enumerate().filter(|(_, product)| !product.is_empty()) {
        let (quantity, word) = (at(&quantities, index), at(&words, index));
        if quantity.is_empty() || !changed.contains(product) {
            continue;
        }
        let (quantity, unit) = in_ledger(&quantity, &word);
        let water = Some(at(&waters, index)).filter(|water| !water.is_empty());
        pours.push(serde_json::json!({
            "product": product, "quantity": quantity, "unit": unit, "water": water,
        }));
    }
    let body = serde_json::json!({ "finished_at": fields.text("at"), "pours": pours });
    serde_json::from_value(body).map_err(|error| Problem::field("quantity", error.to_string()))
}

/// A quantity in a measure of the bench, as one in a unit of the ledger.
pub(crate) fn in_ledger(quantity: &str, word: &str) -> (String, Option<&'static str>) {
    // A comma is how many people write a point.
    let quantity = quantity.replace(',', ".");
    let Some(measure) = measure(word) else { return (quantity, None) };
    let number = quantity.parse::<Decimal>().ok();
    let times = number.and_then(|number| number.checked_mul(measure.times.into()));
    (times.map_or(quantity, |number| number.to_string()), Some(measure.unit.symbol()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_domain::{Quantity, Ratio, Unit};

    use super::*;

    #[test]
    fn what_was_not_touched_is_as_expected() {
        let fields = Fields::read(
            b"product=soap&quantity=40&measure=mL&was=40&was_measure=mL&water=\
              &product=iron&quantity=30&measure=sprays&was=25&was_measure=mL&water=10\
              &product=clay&quantity=&measure=each&was=1&was_measure=each&water=\
              &product=&quantity=&measure=mL&was=&was_measure=&water=",
        );
        let pours = body(&fields).unwrap().pours;
        assert_eq!(pours.len(), 1);
        assert_eq!(pours[0].product, "iron");
        assert_eq!(&*pours[0].quantity, "30");
        assert_eq!(pours[0].unit.as_deref(), Some("mL"));
        assert_eq!(pours[0].water.as_deref(), Some("10"));
    }

    #[test]
    fn a_product_on_two_lines_is_measured_on_both() {
        let fields = Fields::read(
            b"product=foam&quantity=600&measure=mL&was=500&was_measure=mL&water=10\
              &product=foam&quantity=200&measure=mL&was=200&was_measure=mL&water=5",
        );
        let pours = body(&fields).unwrap().pours;
        let told: Vec<_> =
            pours.iter().map(|pour| (&*pour.quantity, pour.water.as_deref())).collect();
        assert_eq!(told, [("600", Some("10")), ("200", Some("5"))]);
    }

    #[test]
    fn what_several_job_types_take_is_asked_for_once() {
        let pour = |product: &str, ml: i64, water: i64| ExpectedPour {
            at: "2026-03-02T12:00:00Z".parse().unwrap(),
            job: Id::parse("J-1").unwrap(),
            product: Id::parse(product).unwrap(),
            quantity: Quantity::from_unit(ml.into(), Unit::Ml).unwrap(),
            ratio: Ratio::from_water(water.into()).unwrap(),
        };
        let all = [pour("foam", 50, 10), pour("soap", 5, 0), pour("foam", 30, 10)];
        let all = together(all.into_iter().chain([pour("foam", 20, 5)]));
        let told: Vec<_> = all.iter().map(|own| (own.product.as_str(), own.quantity)).collect();
        let ml = |number: i64| Quantity::from_unit(number.into(), Unit::Ml).unwrap();
        assert_eq!(told, [("foam", ml(80)), ("soap", ml(5)), ("foam", ml(20))]);
    }

    #[test]
    fn caps_and_sprays_are_millilitres() {
        assert_eq!(in_ledger("2", "caps"), ("30".to_owned(), Some("mL")));
        assert_eq!(in_ledger("2,5", "fl oz"), ("2.5".to_owned(), Some("fl oz")));
        assert_eq!(in_ledger("much", "caps"), ("much".to_owned(), Some("mL")));
    }
}
