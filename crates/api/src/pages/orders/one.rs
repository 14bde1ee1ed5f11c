//! One order: what was ordered, what came of it, on paper, and its end.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::facts::{Order, OrderStatus, Receipt};
use capful_domain::{Facts, Id, LineProgress, Money, OrderBook, Product, Snapshot, offer_of};
use capful_store::{Change, Effects};

use super::line::holds;
use super::list::{day_of, status_name};
use super::receive::Receiving;
use crate::api::Api;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Measures, Place, day_name};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page, page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};
use crate::view;
use crate::written::refusal;

#[derive(Template)]
#[template(path = "order_one.html")]
struct OnePage {
    frame: Frame,
    order: String,
    name: String,
    day: String,
    status: String,
    /// Whether something is still to come.
    is_open: bool,
    /// Whether nothing has come yet.
    is_untouched: bool,
    lines: Vec<Line>,
    total: String,
    came: Vec<Came>,
    receiving: Option<Receiving>,
    fields: Fields,
    wrong: Option<Problem>,
}

/// A line of an order.
struct Line {
    product: String,
    name: String,
    code: String,
    ordered: String,
    text: String,
    /// Whether some of it did not come, and will not.
    is_missing: bool,
}

/// Something that came.
struct Came {
    name: String,
    text: String,
    is_other: bool,
}

#[derive(Template)]
#[template(path = "order_print.html")]
struct PrintPage {
    frame: Frame,
    order: String,
    supplier: String,
    day: String,
    lines: Vec<PaperLine>,
    has_codes: bool,
}

/// A line of an order on paper.
struct PaperLine {
    code: String,
    name: String,
    packs: u32,
    holds: String,
}

/// An order with what is known of it.
pub(super) struct Ordered {
    pub snapshot: Snapshot,
    pub order: Order,
    pub progress: Vec<LineProgress>,
    /// Whether something of it is still waited for.
    pub is_open: bool,
    /// What came that names it.
    pub receipts: Vec<Receipt>,
    /// Whether something of it came, named or not.
    pub has_come: bool,
}

impl Ordered {
    /// Reads an order.
    pub(super) async fn read(api: &Api, visitor: &Visitor, id: &Id) -> Result<Self, Problem> {
        let snapshot = view::snapshot(api, &visitor.caller, None).await?;
        let order = snapshot.facts.orders.iter().find(|order| order.id == *id).cloned();
        let order = order.ok_or_else(|| Problem::not_found("order", id.as_str()))?;
        let progress = OrderBook::progress(&snapshot.facts, &order);
        let named = snapshot.facts.receipts.iter();
        let receipts = named.filter(|row| row.order.as_ref() == Some(id)).cloned().collect();
        let mut deliveries = snapshot.orders.deliveries.iter();
        let own = deliveries.find(|delivery| delivery.order == *id);
        Ok(Self {
            is_open: snapshot.orders.outstanding.iter().any(|line| line.order == *id),
            has_come: own.is_some_and(|delivery| delivery.first_receipt_at.is_some()),
            progress,
            receipts,
            order,
            snapshot,
        })
    }

    /// The supplier's name.
    pub(super) fn supplier(&self) -> &str {
        let mut all = self.snapshot.facts.suppliers.iter();
        let own = all.find(|supplier| supplier.id == self.order.supplier);
        own.map_or(self.order.supplier.as_str(), |supplier| supplier.name.as_str())
    }

    /// A product.
    pub(super) fn product(&self, id: &Id) -> Option<&Product> {
        self.facts().products.iter().find(|product| product.id == *id)
    }

    /// A product's name.
    pub(super) fn name(&self, id: &Id) -> String {
        self.product(id).map_or(id.as_str(), |product| product.name.as_str()).to_owned()
    }

    /// What was written down.
    pub(super) const fn facts(&self) -> &Facts {
        &self.snapshot.facts
    }

    /// How it stands once nothing more will come.
    const fn end(&self) -> OrderStatus {
        if self.has_come { OrderStatus::Received } else { OrderStatus::Cancelled }
    }

    fn measures(&self) -> Measures {
        Measures::of(&self.facts().shop)
    }

    /// What a line's packs hold.
    fn holds(&self, progress: &LineProgress) -> String {
        let Some(product) = self.product(&progress.line.product) else { return String::new() };
        let packs = progress.line.packs;
        let pack = progress.containers.checked_div(packs).unwrap_or(1);
        holds(product, packs, pack, &self.measures())
    }

    fn line(&self, progress: &LineProgress) -> Line {
        let came = progress.containers - progress.missing;
        let name = match (progress.missing, self.is_open) {
            (0, _) => "orders-line-came",
            (_, true) if came == 0 => "orders-line-nothing",
            (_, true) => "orders-line-part",
            (_, false) => "orders-line-not",
        };
        let said = words().say(name).with("came", came).with("missing", progress.missing);
        Line {
            product: progress.line.product.to_string(),
            name: self.name(&progress.line.product),
            code: progress.line.supplier_code.clone().unwrap_or_default(),
            ordered: self.holds(progress),
            text: said.to_string(),
            is_missing: progress.missing > 0 && !self.is_open,
        }
    }

    fn came(&self, receipt: &Receipt) -> Came {
        let shop = &self.facts().shop;
        let text = words()
            .say(if receipt.lot.is_some() { "orders-came-lot" } else { "orders-came-line" })
            .with("count", receipt.containers)
            .with("lot", receipt.lot.as_deref().unwrap_or_default())
            .with("day", day_name(shop.day_of(receipt.at), self.snapshot.day))
            .to_string();
        let is_other = self.progress.iter().all(|own| own.line.product != receipt.product);
        Came { name: self.name(&receipt.product), text, is_other }
    }

    /// What its goods cost today.
    fn total(&self) -> Money {
        let cost = |own: &LineProgress| {
            let offer = offer_of(self.facts(), &self.order, &own.line);
            offer.map(|offer| offer.price.times(own.line.packs.into())).unwrap_or_default()
        };
        self.progress.iter().map(cost).sum()
    }

    /// How it stands, in words.
    fn status(&self) -> String {
        let t = words();
        if self.is_open {
            let left: u32 = self.progress.iter().map(|own| own.missing).sum();
            return t.say("orders-waits").with("count", left).to_string();
        }
        t.say(status_name(&self.order)).to_string()
    }
}

/// `GET /orders/{id}`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    Named(id): Named,
) -> Result<Response, Problem> {
    shown(&api, &visitor, &id, Fields::default(), None).await
}

/// The page of an order, with what was sent where that was wrong.
pub(super) async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    fields: Fields,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let own = Ordered::read(api, visitor, id).await?;
    let status = status_of(&wrong);
    let day = day_of(&own.snapshot, &own.order);
    let title = words().say("orders-one").with("supplier", own.supplier()).with("day", &day);
    let path = format!("/orders/{}", segment(id));
    let is_cancelled = own.order.status == Some(OrderStatus::Cancelled);
    let receiving = (!is_cancelled).then(|| Receiving::of(&own, &fields, visitor.is_owner()));
    let page = OnePage {
        frame: Frame::of(api, visitor, Place::Order, title, path).await?,
        order: id.to_string(),
        name: own.supplier().to_owned(),
        day,
        status: own.status(),
        is_open: own.is_open,
        is_untouched: !own.has_come,
        lines: own.progress.iter().map(|progress| own.line(progress)).collect(),
        total: own.measures().money(own.total()),
        came: own.receipts.iter().map(|receipt| own.came(receipt)).collect(),
        receiving,
        fields,
        wrong,
    };
    page_of(status, &page)
}

/// `GET /orders/{id}/print`: a clean page, for paper or to send.
pub(crate) async fn print(
    State(api): State<Api>,
    visitor: Visitor,
    Named(id): Named,
) -> Result<Response, Problem> {
    let own = Ordered::read(&api, &visitor, &id).await?;
    let placed_on = own.facts().shop.day_of(own.order.placed_at);
    let line = |progress: &LineProgress| PaperLine {
        code: progress.line.supplier_code.clone().unwrap_or_default(),
        name: own.name(&progress.line.product),
        packs: progress.line.packs,
        holds: own.holds(progress),
    };
    let lines: Vec<PaperLine> = own.progress.iter().map(line).collect();
    let title = words().say("orders-paper").with("supplier", own.supplier());
    let path = format!("/orders/{}/print", segment(&id));
    page(&PrintPage {
        frame: Frame::of(&api, &visitor, Place::Order, title, path).await?,
        order: id.to_string(),
        supplier: own.supplier().to_owned(),
        day: placed_on.format("%-d %B %Y").to_string(),
        has_codes: lines.iter().any(|line| !line.code.is_empty()),
        lines,
    })
}

/// `POST /orders/{id}/cancel`: nothing of it will come.
pub(crate) async fn cancel(
    State(api): State<Api>,
    Named(id): Named,
    Owner(visitor): Owner,
    form: Form,
) -> Result<Response, Problem> {
    let own = Ordered::read(&api, &visitor, &id).await?;
    if own.has_come {
        let text = words().say("orders-cancel-came").to_string();
        return Err(Problem::new(Kind::Refused, text));
    }
    Ok(led(&set(&api, &form.asked(&api), &id, OrderStatus::Cancelled).await?))
}

/// `POST /orders/{id}/end`: the rest will not come.
pub(crate) async fn end(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    Ok(led(&over(&api, &form.visitor, &id, &form.asked(&api)).await?))
}

/// The rest of an order will not come. Where nothing of it came it is cancelled, which is the
/// owner's to do.
pub(super) async fn over(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    asked: &capful_store::WriteContext,
) -> Result<capful_store::Answered<Effects>, Problem> {
    let own = Ordered::read(api, visitor, id).await?;
    let status = own.end();
    if status == OrderStatus::Cancelled && !visitor.is_owner() {
        let text = words().say("orders-cancel-owner").to_string();
        return Err(Problem::new(Kind::ScopeTooNarrow, text));
    }
    set(api, asked, id, status).await
}

async fn set(
    api: &Api,
    asked: &capful_store::WriteContext,
    id: &Id,
    status: OrderStatus,
) -> Result<capful_store::Answered<Effects>, Problem> {
    let change = Change::SetOrder { order: id.clone(), status };
    let path = format!("/orders/{}", segment(id));
    let done = api.store.change(asked, &change, |outcome| lead_to(&path, outcome)).await;
    done.map_err(|error| refusal(error, Some(("order", id.as_str()))))
}
