//! The weekly order, by supplier, each line with its reason: looked over, changed, placed.

use std::collections::BTreeMap;
use std::sync::Arc;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::facts::{Order, OrderLine as PlacedLine};
use capful_domain::{Facts, Id, Money, Offer, Product, Snapshot, Supplier};
use capful_forecast::Plan;
use capful_forecast::plan::{SupplierOrder, Warning};
use capful_store::{Change, Effects};
use chrono::NaiveDate;

use super::chosen::{Chosen, Row, more};
use super::line::{Line, Written};
use super::terms::Terms;
use crate::api::Api;
use crate::known::known;
use crate::pages::drawing;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Measures, Place, day_name};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::params::WhichPlan;
use crate::path::segment;
use crate::plans;
use crate::problem::{Kind, Problem};
use crate::view;
use crate::written::{OrderBody, Reader, refusal};

#[derive(Template)]
#[template(path = "order.html")]
struct WeeklyPage {
    frame: Frame,
    day: String,
    /// Products to count first, as that decides what to order: id, name, why.
    counts: Vec<(String, String, String)>,
    sections: Vec<Section>,
    waiting: Vec<Waiting>,
    total: String,
    /// Orders that something is still to come of.
    open: usize,
    wrong: Option<Problem>,
}

/// What to order from one supplier.
struct Section {
    supplier: String,
    name: String,
    /// When to place it and when it comes, drawn and in words; nothing where it is not advised.
    arrives: Option<ArrivesShown>,
    /// Why now.
    why: String,
    lines: Vec<Line>,
    goods: String,
    freight: String,
    total: String,
    /// How far the free delivery and the minimum are.
    terms: Vec<String>,
    is_below_minimum: bool,
    more: More,
}

struct ArrivesShown {
    place: String,
    text: String,
    drawing: String,
}

/// What else a supplier sells.
struct More {
    field: String,
    /// Products with their codes, as the form sends them, and how they are shown.
    options: Vec<(String, String)>,
}

/// A supplier that can wait.
struct Waiting {
    supplier: String,
    name: String,
    why: String,
    more: More,
}

/// `GET /order`
pub(crate) async fn get(State(api): State<Api>, visitor: Visitor) -> Result<Response, Problem> {
    shown(&api, &visitor, &Fields::default(), None).await
}

/// `POST /order`: looks again at what was changed, or places one supplier's order.
pub(crate) async fn post(
    State(api): State<Api>,
    Owner(visitor): Owner,
    form: Form,
) -> Result<Response, Problem> {
    let Some(supplier) = form.fields.text("place") else {
        return shown(&api, &visitor, &form.fields, None).await;
    };
    // What was only just picked was not seen with its price.
    if form.fields.text(&more(supplier)).is_some() {
        return shown(&api, &visitor, &form.fields, None).await;
    }
    match place(&api, &form, supplier).await {
        Err(wrong) if wrong.kind == Kind::BadBody || wrong.kind == Kind::Refused => {
            shown(&api, &visitor, &form.fields, Some(wrong)).await
        }
        other => other,
    }
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    fields: &Fields,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let snapshot = view::snapshot(api, &visitor.caller, None).await?;
    let plan = plans::planned(api, &visitor.caller, WhichPlan::default()).await?;
    let weekly = Weekly::of(&snapshot, &plan, fields);
    let wrong = wrong.or_else(|| weekly.chosen.wrong(|product| weekly.name(product)));
    let status = status_of(&wrong);
    let (sections, sum) = weekly.sections();
    let open: std::collections::BTreeSet<&Id> =
        snapshot.orders.outstanding.iter().map(|line| &line.order).collect();
    let open = open.len();
    let title = words().say("order-title");
    page_of(
        status,
        &WeeklyPage {
            frame: Frame::of(api, visitor, Place::Order, title, "/order").await?,
            day: snapshot.day.format("%A %-d %B").to_string(),
            counts: weekly.counts(),
            total: weekly.measures.money(sum),
            waiting: weekly.waiting(&sections),
            sections,
            open,
            wrong,
        },
    )
}

/// The weekly order as it is looked at.
struct Weekly<'w> {
    facts: &'w Facts,
    day: NaiveDate,
    plan: &'w Arc<Plan>,
    chosen: Chosen,
    products: BTreeMap<&'w str, &'w Product>,
    measures: Measures,
}

impl<'w> Weekly<'w> {
    fn of(snapshot: &'w Snapshot, plan: &'w Arc<Plan>, fields: &Fields) -> Self {
        let facts = &snapshot.facts;
        let suppliers = facts.suppliers.iter().map(|supplier| supplier.id.to_string());
        Self {
            facts,
            day: snapshot.day,
            plan,
            chosen: Chosen::of(fields, suppliers),
            products: facts.products.iter().map(|own| (own.id.as_str(), own)).collect(),
            measures: Measures::of(&facts.shop),
        }
    }

    fn name(&self, product: &str) -> String {
        self.products.get(product).map_or(product, |own| own.name.as_str()).to_owned()
    }

    /// What the plan asks to count before the order is placed.
    fn counts(&self) -> Vec<(String, String, String)> {
        let due = self.plan.warnings.iter().filter(|warning| warning.code == "count-due");
        let row = |warning: &Warning| {
            let product = warning.product.clone()?;
            Some((product.clone(), self.name(&product), warning.text.clone()))
        };
        due.filter_map(row).collect()
    }

    /// The suppliers that are ordered from, by the plan and then by choice, and what all cost.
    fn sections(&self) -> (Vec<Section>, Money) {
        let mut sum = Money::ZERO;
        let orders = &self.plan.weekly_order.orders;
        let advised = |supplier: &Supplier| {
            orders.iter().find(|order| order.supplier == supplier.id.as_str())
        };
        let mut suppliers: Vec<&Supplier> = self.facts.suppliers.iter().collect();
        suppliers.retain(|supplier| {
            let chose = self.chosen.from(supplier.id.as_str()).next().is_some();
            advised(supplier).is_some() || chose
        });
        let place = |supplier: &&Supplier| {
            orders.iter().position(|order| order.supplier == supplier.id.as_str())
        };
        suppliers.sort_by_key(|supplier| place(supplier).unwrap_or(usize::MAX));
        let sections = suppliers.into_iter().map(|supplier| {
            let (section, total) = self.section(supplier, advised(supplier));
            sum += total;
            section
        });
        let sections = sections.collect();
        (sections, sum)
    }

    fn section(&self, supplier: &Supplier, order: Option<&SupplierOrder>) -> (Section, Money) {
        let written = self.written(supplier, order);
        let goods = written.iter().map(Written::cost).sum();
        let terms = Terms::of(supplier, goods);
        let lines: Vec<Line> = written.iter().map(Written::line).collect();
        let money = |money| self.measures.money(money);
        let section = Section {
            supplier: supplier.id.to_string(),
            name: supplier.name.clone(),
            arrives: order.map(|order| self.arrives(order)),
            // What it says of the delivery holds of what is advised only.
            why: order
                .filter(|order| goods.to_decimal(self.facts.shop.currency) == order.goods)
                .map(|order| order.why.clone())
                .unwrap_or_default(),
            goods: money(terms.goods),
            freight: money(terms.freight),
            total: money(terms.total()),
            terms: terms.sentences(&self.measures),
            is_below_minimum: terms.is_below_minimum(),
            more: self.more(supplier, &lines),
            lines,
        };
        (section, terms.total())
    }

    /// The lines of one supplier: those of the plan, then those that were added.
    fn written<'s>(
        &'s self,
        supplier: &'s Supplier,
        order: Option<&'s SupplierOrder>,
    ) -> Vec<Written<'s>> {
        let own = supplier.id.as_str();
        let mut all = Vec::new();
        for line in order.map(|order| order.lines.as_slice()).unwrap_or_default() {
            let code = line.code.as_deref();
            let row = self.chosen.find(own, &line.product, code);
            let per_pack = line.containers.checked_div(line.packs);
            let offer = self.facts.offers.iter().find(|offer| {
                offer.supplier == supplier.id
                    && offer.product.as_str() == line.product
                    && offer.code == line.code
                    && Some(offer.pack) == per_pack
            });
            let written = offer.and_then(|offer| self.line(offer, row));
            all.extend(written.map(|written| Written {
                packs: row.map_or(line.packs, |row| row.number().unwrap_or(line.packs)),
                advised: Some(line),
                ..written
            }));
        }
        let is_added = |row: &&Row| {
            let lines = order.map(|order| order.lines.as_slice()).unwrap_or_default();
            !lines.iter().any(|line| line.product == row.product && line.code == row.code)
        };
        for row in self.chosen.from(own).filter(is_added) {
            let offer = offer(self.facts, supplier, row);
            all.extend(offer.and_then(|offer| self.line(offer, Some(row))));
        }
        all
    }

    fn line<'l>(&'l self, offer: &'l Offer, row: Option<&'l Row>) -> Option<Written<'l>> {
        // What was only just picked begins with the least that is sold.
        let typed = row.map(|row| row.packs.as_str()).filter(|typed| !typed.is_empty());
        let packs = row.filter(|_| typed.is_some()).and_then(|row| row.number().ok());
        Some(Written {
            product: self.products.get(offer.product.as_str())?,
            offer,
            typed,
            packs: packs.unwrap_or(offer.minimum_packs.max(1)),
            advised: None,
            measures: self.measures,
            day: self.day,
        })
    }

    /// When to place an order and when it comes.
    fn arrives(&self, order: &SupplierOrder) -> ArrivesShown {
        let t = words();
        let ahead = |day: NaiveDate| (day - self.day).num_days();
        let arrivals = self.plan.weekly_order.orders.iter().map(|order| order.arrives.p90);
        let whole = arrivals.map(ahead).max().unwrap_or(0) + 1;
        let text = t
            .say("order-arrives")
            .with("p50", day_name(order.arrives.p50, self.day))
            .with("p90", day_name(order.arrives.p90, self.day))
            .to_string();
        let days = [order.place_by, order.arrives.p50, order.arrives.p90].map(ahead);
        let place = t.say("order-place-by").with("day", day_name(order.place_by, self.day));
        ArrivesShown {
            place: place.to_string(),
            drawing: drawing::arrival(days, whole, &text),
            text,
        }
    }

    /// What else a supplier sells.
    fn more(&self, supplier: &Supplier, lines: &[Line]) -> More {
        let is_listed = |offer: &&Offer| {
            let code = offer.code.as_deref().unwrap_or_default();
            lines.iter().any(|line| line.product == offer.product.as_str() && line.code == code)
        };
        let own = self.facts.offers.iter().filter(|offer| offer.supplier == supplier.id);
        let option = |offer: &Offer| {
            let code = offer.code.as_deref().unwrap_or_default();
            let name = self.name(offer.product.as_str());
            let shown = match offer.pack {
                1 => name,
                pack => {
                    words().say("order-option").with("name", name).with("pack", pack).to_string()
                }
            };
            (format!("{}:{code}", offer.product), shown)
        };
        let options = own.filter(|offer| !is_listed(offer)).map(option).collect();
        More { field: more(supplier.id.as_str()), options }
    }

    /// The suppliers that can wait, but for those that are ordered from all the same.
    fn waiting(&self, sections: &[Section]) -> Vec<Waiting> {
        let rows = self.plan.weekly_order.waiting.iter();
        let rows = rows.filter(|row| sections.iter().all(|own| own.supplier != row.supplier));
        let waiting = |row: &capful_forecast::plan::WaitingSupplier| {
            let mut all = self.facts.suppliers.iter();
            let supplier = all.find(|supplier| supplier.id.as_str() == row.supplier)?;
            Some(Waiting {
                supplier: row.supplier.clone(),
                name: supplier.name.clone(),
                why: row.why.clone(),
                more: self.more(supplier, &[]),
            })
        };
        rows.filter_map(waiting).collect()
    }
}

/// The offer that a row of the form speaks of.
fn offer<'f>(facts: &'f Facts, supplier: &Supplier, row: &Row) -> Option<&'f Offer> {
    let (own, code) = (&supplier.id, row.code.as_deref());
    let mut offers: Vec<&Offer> = facts.offers.iter().collect();
    offers.retain(|offer| offer.supplier == *own && offer.product.as_str() == row.product);
    let coded = offers.iter().find(|offer| offer.code.as_deref() == code);
    coded.or(offers.iter().find(|offer| offer.preferred)).or(offers.first()).copied()
}

/// Places one supplier's order with the packs that were chosen.
async fn place(api: &Api, form: &Form, supplier: &str) -> Result<Response, Problem> {
    let caller = &form.visitor.caller;
    let known = known(api, caller).await?;
    let snapshot = view::snapshot(api, caller, None).await?;
    let rows: Vec<Row> =
        Chosen::of(&form.fields, std::iter::empty()).from(supplier).cloned().collect();
    let name = |product: &str| {
        let id = Id::parse(product).ok();
        let own = id.and_then(|id| known.products.get(&id).map(|own| own.name.clone()));
        own.unwrap_or_else(|| product.to_owned())
    };
    if let Some(wrong) = Chosen(rows.clone()).wrong(name) {
        return Err(wrong);
    }
    let lines: Vec<&Row> = rows.iter().filter(|row| row.number().is_ok_and(|n| n > 0)).collect();
    if lines.is_empty() {
        let text = words().say("order-nothing").to_string();
        return Err(Problem::new(Kind::Refused, text));
    }
    if !form.fields.ticked("anyway", supplier) {
        check_minimum(&snapshot.facts, supplier, &lines)?;
    }
    let body: OrderBody = serde_json::from_value(serde_json::json!({
        "id": new_id(&snapshot, supplier),
        "supplier": supplier,
        "lines": lines.iter().map(|row| serde_json::json!({
            "product": row.product, "packs": row.packs, "supplier_code": row.code,
        })).collect::<Vec<_>>(),
    }))
    .map_err(|error| Problem::new(Kind::BadBody, error.to_string()))?;
    let asked = form.asked(api);
    let mut reader = Reader::new(api, &known, asked.now);
    let read = body.read(&mut reader);
    let (order, lines): (Order, Vec<PlacedLine>) = reader.end(read)?;
    let path = format!("/orders/{}", segment(&order.id));
    let answer = |outcome: &Effects| lead_to(&path, outcome);
    let done = api.store.change(&asked, &Change::PlaceOrder(order, lines), answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// An id that people can read and say: the supplier's, and the day. Nothing where that is too long.
fn new_id(snapshot: &Snapshot, supplier: &str) -> Option<String> {
    let is_taken = |id: &str| snapshot.facts.orders.iter().any(|order| order.id.as_str() == id);
    let first = format!("{supplier}-{}", snapshot.day);
    let later = (2..100).map(|number| format!("{first}-{number}"));
    let free = std::iter::once(first.clone()).chain(later).find(|id| !is_taken(id))?;
    Id::parse(&free).is_ok().then_some(free)
}

/// An order below the supplier's minimum is placed only by who has seen that it is.
fn check_minimum(facts: &Facts, supplier: &str, lines: &[&Row]) -> Result<(), Problem> {
    let mut all = facts.suppliers.iter();
    let Some(own) = all.find(|own| own.id.as_str() == supplier) else { return Ok(()) };
    let cost = |row: &&Row| {
        let price = offer(facts, own, row).map(|offer| offer.price).unwrap_or_default();
        price.times(row.number().unwrap_or_default().into())
    };
    if Terms::of(own, lines.iter().map(cost).sum()).is_below_minimum() {
        let minimum = Measures::of(&facts.shop).money(own.minimum_order);
        let text = words().say("order-below-refused").with("minimum", minimum);
        return Err(Problem::new(Kind::Refused, text.to_string()));
    }
    Ok(())
}
