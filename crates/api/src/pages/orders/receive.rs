//! What came of an order: filled in is what is still to come, and short deliveries leave the rest
//! open.

use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, LineProgress, Money, offer_of};
use capful_store::Change;
use serde_json::{Value, json};

use super::one::{Ordered, over, shown};
use crate::api::Api;
use crate::known::known;
use crate::pages::form::{Fields, Form};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led};
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};
use crate::written::{Reader, ReceiptBody, ReceiptRows, refusal};

/// The form of what came.
pub(super) struct Receiving {
    pub lines: Vec<Line>,
    /// The last row: something that was not ordered.
    pub other: Line,
    /// Every product.
    pub products: Vec<(String, String)>,
}

/// A row of the form.
#[derive(Default)]
pub(super) struct Line {
    pub product: String,
    pub name: String,
    pub containers: String,
    pub lot: String,
    pub best_before: String,
    /// Of one container; only the owner sees it.
    pub unit_cost: String,
}

impl Receiving {
    /// As an order stands, or as it was sent.
    pub(super) fn of(own: &Ordered, fields: &Fields, is_owner: bool) -> Self {
        let waited = own.progress.iter().filter(|line| line.missing > 0);
        let column = |name: &str, place: usize| fields.all(name).nth(place).map(str::to_owned);
        let line = |(place, line): (usize, &LineProgress)| {
            let price = unit_cost(own, Some(line), &line.line.product);
            let decimal = price.map(|price| price.to_decimal(own.facts().shop.currency));
            let cost = decimal.filter(|_| is_owner).map(|cost| cost.to_string());
            // Of an order that is over nothing is expected any more.
            let expected = if own.is_open { line.missing } else { 0 };
            Line {
                product: line.line.product.to_string(),
                name: own.name(&line.line.product),
                containers: column("containers", place).unwrap_or_else(|| expected.to_string()),
                lot: column("lot", place).unwrap_or_default(),
                best_before: column("best_before", place).unwrap_or_default(),
                unit_cost: column("unit_cost", place).or(cost).unwrap_or_default(),
            }
        };
        let lines: Vec<Line> = waited.enumerate().map(line).collect();
        let last = |name: &str| column(name, lines.len()).unwrap_or_default();
        let other = Line {
            product: last("product"),
            name: String::new(),
            containers: last("containers"),
            lot: last("lot"),
            best_before: last("best_before"),
            unit_cost: last("unit_cost"),
        };
        let products = own.facts().products.iter();
        let mut products: Vec<(String, String)> =
            products.map(|product| (product.id.to_string(), product.name.clone())).collect();
        products.sort_by(|a, b| a.1.cmp(&b.1));
        Self { lines, other, products }
    }
}

/// What one container costs: by the line it was ordered with, another offer, or what it cost last.
fn unit_cost(own: &Ordered, line: Option<&LineProgress>, product: &Id) -> Option<Money> {
    let facts = own.facts();
    let ordered = line.and_then(|line| offer_of(facts, &own.order, &line.line));
    let from_supplier =
        || facts.offers.iter().find(|o| o.product == *product && o.supplier == own.order.supplier);
    let from_anyone = || facts.offers.iter().find(|offer| offer.product == *product);
    let offer = ordered.or_else(from_supplier).or_else(from_anyone);
    let last = || facts.receipts.iter().rfind(|receipt| receipt.product == *product);
    let of_offer = offer.map(|offer| offer.price.share(1, i64::from(offer.pack.max(1))));
    of_offer.or_else(|| last().map(|receipt| receipt.unit_cost))
}

/// `POST /orders/{id}/receive`
pub(crate) async fn post(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    match receive(&api, &id, &form).await {
        Err(wrong) if matches!(wrong.kind, Kind::BadBody | Kind::Refused) => {
            shown(&api, &form.visitor, &id, form.fields.clone(), Some(wrong)).await
        }
        other => other,
    }
}

async fn receive(api: &Api, id: &Id, form: &Form) -> Result<Response, Problem> {
    let own = Ordered::read(api, &form.visitor, id).await?;
    let (rows, names) = rows(&own, form)?;
    let ends = form.fields.text("rest").is_some();
    if rows.is_empty() && ends {
        return Ok(led(&over(api, &form.visitor, id, &form.asked(api)).await?));
    }
    if rows.is_empty() {
        let text = words().say("receive-nothing").to_string();
        return Err(Problem::new(Kind::Refused, text));
    }
    let body: ReceiptRows = serde_json::from_value(Value::Array(rows))
        .map_err(|error| Problem::new(Kind::BadBody, error.to_string()))?;
    let known = known(api, &form.visitor.caller).await?;
    let asked = form.asked(api);
    let mut reader = Reader::new(api, &known, asked.now);
    let read = body.read(&mut reader, ReceiptBody::read);
    let receipts = reader.end(read).map_err(|wrong| by_name(wrong, &names))?;
    let change = match ends {
        true => Change::ReceiveLast { receipts, order: id.clone() },
        false => Change::Receive(receipts),
    };
    let path = format!("/orders/{}", segment(id));
    let done = api.store.change(&asked, &change, |outcome| lead_to(&path, outcome)).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// The rows of the form of which something came, as the bodies of receipts, and the names of their
/// products.
fn rows(own: &Ordered, form: &Form) -> Result<(Vec<Value>, Vec<String>), Problem> {
    let fields = &form.fields;
    let column = |name: &str| fields.all(name).collect::<Vec<_>>();
    let (products, counts) = (column("product"), column("containers"));
    let (lots, days, costs) = (column("lot"), column("best_before"), column("unit_cost"));
    let at = |column: &[&str], place: usize| {
        column.get(place).copied().filter(|text| !text.is_empty()).map(str::to_owned)
    };
    let (mut rows, mut names) = (Vec::new(), Vec::new());
    for (place, count) in counts.iter().enumerate() {
        if count.is_empty() || count.bytes().all(|byte| byte == b'0') {
            continue;
        }
        let Some(product) = at(&products, place) else {
            let text = words().say("receive-which").to_string();
            return Err(Problem::field("product", text));
        };
        let id = Id::parse(&product).map_err(|_| Problem::not_found("product", &product))?;
        let line = own.progress.iter().find(|line| line.line.product == id);
        let usual = unit_cost(own, line, &id).unwrap_or_default();
        let usual = usual.to_decimal(own.facts().shop.currency).to_string();
        // Prices are the owner's to see and to say.
        let told = at(&costs, place).filter(|_| form.visitor.is_owner());
        let cost = told.map_or(usual, |cost| cost.replace(',', "."));
        rows.push(json!({
            "at": fields.text("at"),
            "product": product,
            "containers": count,
            "unit_cost": cost,
            "supplier": own.order.supplier.as_str(),
            "lot": at(&lots, place),
            "best_before": at(&days, place),
            "order": own.order.id.as_str(),
        }));
        names.push(own.name(&id));
    }
    Ok((rows, names))
}

/// What is wrong with a row, told by the name of its product and not by its place.
fn by_name(mut wrong: Problem, names: &[String]) -> Problem {
    let named = |field: &str| -> Option<String> {
        let (place, rest) = field.strip_prefix('[')?.split_once("].")?;
        let name = names.get(place.parse::<usize>().ok()?)?;
        let said = format!("receive-field-{rest}");
        let rest =
            if words().has(&said) { words().say(&said).to_string() } else { rest.to_owned() };
        Some(format!("{name}, {rest}"))
    };
    wrong.field = wrong.field.map(|field| named(&field).unwrap_or(field));
    for error in &mut wrong.errors {
        if let Some(name) = named(&error.field) {
            error.field = name;
        }
    }
    wrong
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_is_told_by_the_products_name() {
        let names = ["Soap".to_owned(), "Clay".to_owned()];
        let told = |field: &str| by_name(Problem::field(field, "x"), &names).field;
        assert_eq!(told("[1].best_before").as_deref(), Some("Clay, best before"));
        assert_eq!(told("order").as_deref(), Some("order"));
    }
}
