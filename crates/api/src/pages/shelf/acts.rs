//! What can be done to a product or to one of its containers, from whichever page it is asked.
//!
//! A form says which act it is; its fields are those of the body that the same operation takes over
//! HTTP, so that it is read, done and refused in the same way.

use axum::response::Response;
use capful_domain::facts::Receipt;
use capful_domain::{Container, ContainerState, Form as Sold, Id, Money, Product, Unit};
use capful_store::Change;
use rust_decimal::Decimal;

use super::books::Books;
use super::bottle::state;
use super::recipe::Recipe;
use crate::api::Api;
use crate::known::known;
use crate::pages::amounts::{Measure, measures};
use crate::pages::finish::in_ledger;
use crate::pages::form::{Fields, Form};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led};
use crate::path::{container, segment};
use crate::problem::{Kind, Problem};
use crate::written::{
    CountBody, DiscardBody, MixBody, OpeningBody, PourBody, Reader, ReceiptBody, refusal,
};

/// What an act is about.
pub(super) struct About<'a> {
    pub product: &'a Id,
    /// The one container, where the page is about one.
    pub container: Option<&'a Container>,
    /// Where it leads once it was done.
    pub then: &'a str,
}

/// Does what a form asks for.
///
/// # Errors
/// [`Problem`] where the form is wrong or the store refuses it.
pub(super) async fn act(api: &Api, form: &Form, about: &About<'_>) -> Result<Response, Problem> {
    let caller = &form.visitor.caller;
    let known = known(api, caller).await?;
    let mut fields = in_units(&form.fields);
    fields.set("product", about.product.as_str());
    if let Some(container) = about.container {
        fields.set("container", container.id.as_str());
    }
    if fields.text("act") == Some("receive") {
        let cost = fields.text("unit_cost").filter(|_| form.visitor.is_owner());
        if cost.is_none() {
            let books = Books::now(api, &form.visitor).await?;
            let cost = books.last_cost(about.product).to_decimal(books.shop().currency);
            fields.set("unit_cost", cost.to_string());
        }
    }
    let asked = form.asked(api);
    let mut reader = Reader::new(api, &known, asked.now);
    let change = read(&fields, &mut reader)?;
    let change = reader.end(change)?;
    let answer = |outcome: &capful_store::Effects| lead_to(about.then, outcome);
    let done = api.store.change(&asked, &change, answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// Whether a person can put it right on the page that they sent.
pub(super) fn can_be_put_right(wrong: &Problem) -> bool {
    matches!(wrong.kind, Kind::BadBody | Kind::Refused)
}

/// The change that a form asks for; `None` where the reader was told what is wrong.
fn read(fields: &Fields, reader: &mut Reader<'_>) -> Result<Option<Change>, Problem> {
    let amount = ["at", "product", "container", "quantity", "unit"];
    let with = |more: &[&'static str]| [&amount[..], more].concat();
    Ok(match fields.shown("act") {
        "open" => {
            let body: OpeningBody = fields.body(&["at", "product", "container"], &[])?;
            body.read(reader).map(Change::Open)
        }
        "pour" => {
            let body: PourBody = fields.body(&with(&["job", "water"]), &[])?;
            body.read(reader).map(|pour| Change::Pour(vec![pour]))
        }
        "mix" => {
            let body: MixBody = fields.body(&with(&["water"]), &[])?;
            body.read(reader).map(Change::Mix)
        }
        "discard" => {
            let body: DiscardBody = fields.body(&with(&["reason"]), &[])?;
            body.read(reader).map(Change::Discard)
        }
        "count" => {
            let body: CountBody = fields.body(&with(&["gross_g", "sealed"]), &[])?;
            body.read(reader).map(Change::Count)
        }
        "receive" => {
            let names =
                ["at", "product", "containers", "unit_cost", "supplier", "lot", "best_before"];
            let body: ReceiptBody = fields.body(&names, &[])?;
            body.read(reader).map(|receipt: Receipt| Change::Receive(vec![receipt]))
        }
        other => {
            let detail = format!("found {other:?}, expected one of the buttons of the page");
            return Err(Problem::field("act", detail));
        }
    })
}

/// The fields with their amounts in units of the ledger, and points where people write commas.
fn in_units(fields: &Fields) -> Fields {
    let mut own = fields.clone();
    for name in ["water", "gross_g", "sealed", "containers", "unit_cost"] {
        let text = fields.shown(name).replace(',', ".");
        own.set(name, text);
    }
    if let Some(quantity) = fields.text("quantity") {
        let (number, unit) = in_ledger(quantity, fields.shown("measure"));
        own.set("quantity", number);
        own.set("unit", unit.unwrap_or_default());
    }
    if let ("oz", Ok(number)) = (fields.shown("scale"), own.shown("gross_g").parse::<Decimal>()) {
        let grams = capful_domain::Quantity::from_unit(number, Unit::Oz).unwrap_or_default();
        own.set("gross_g", grams.in_unit(Unit::G).to_string());
    }
    own
}

/// The forms of a page.
pub(super) struct Acts {
    /// Where they are sent.
    pub path: String,
    pub name: String,
    pub measures: &'static [Measure],
    /// Containers that can be opened, each with its words; empty: none is sealed.
    pub opens: Vec<(String, String)>,
    /// Containers that can be poured from or thrown away; empty where the page is about one.
    pub containers: Vec<(String, String)>,
    pub jobs: Vec<(String, String)>,
    /// What a mix is made of; none where it is not cut.
    pub recipe: Option<Recipe>,
    /// Whether it is a concentrate, and poured as a mix now and then.
    pub is_cut: bool,
    pub weigh: Weigh,
    /// What can be received; none on the page of a container.
    pub receive: Option<Receive>,
    /// The page is about one container.
    pub is_one: bool,
    /// Something is left that can be poured or thrown away.
    pub has_any: bool,
    act: String,
    fields: Fields,
    pub wrong: Option<Problem>,
}

/// How a product is weighed.
pub(super) enum Weigh {
    /// It is not: it is counted in pieces or along a rule.
    Never,
    /// Several stand open: each on its own page.
    EachAlone,
    /// What is told beside the field.
    On(String),
}

/// What a receipt asks for.
pub(super) struct Receive {
    pub suppliers: Vec<(String, String)>,
    /// What one cost the last time, where the visitor sees costs.
    pub cost: Option<String>,
    pub currency: &'static str,
}

/// What was sent and was wrong.
pub(super) type Sent = Option<(Fields, Problem)>;

impl Acts {
    /// The forms for a product, or for one of its containers.
    pub(super) fn of(
        books: &Books,
        product: &Product,
        one: Option<&Container>,
        fields: &Fields,
        sent: Sent,
    ) -> Self {
        let (fields, wrong) = match sent {
            Some((sent, wrong)) => (sent, Some(wrong)),
            None => (fields.clone(), None),
        };
        let live = books.live(product);
        let choice = |own: &&Container| {
            let left = books.left_in(own, product);
            let text = words().say("choice").with("id", &own.id).with("state", state(own));
            (own.id.to_string(), text.with("left", left).to_string())
        };
        let units = books.measures.units();
        Self {
            path: one.map_or_else(
                || format!("/shelf/{}", segment(&product.id)),
                |own| container(&own.id),
            ),
            name: one.map_or_else(|| product.name.clone(), |own| own.id.to_string()),
            measures: measures(product.unit.dimension(), units),
            opens: opens(books, product, one),
            containers: match one {
                Some(_) => Vec::new(),
                None => live.iter().map(choice).collect(),
            },
            jobs: books
                .jobs_of_today()
                .iter()
                .map(|job| (job.id.to_string(), books.job_name(&job.id)))
                .collect(),
            recipe: Recipe::of(books, product, &fields).filter(|_| one.is_none()),
            is_cut: product.form == Sold::Concentrate && one.is_none_or(|own| own.mix.is_none()),
            weigh: weigh(books, product, one),
            receive: None,
            is_one: one.is_some(),
            has_any: one.map_or(!live.is_empty(), Container::is_live),
            act: fields.shown("act").to_owned(),
            fields,
            wrong,
        }
    }

    /// The same with what a receipt asks for.
    pub(super) fn receiving(self, books: &Books, product: &Product, is_owner: bool) -> Self {
        let shop = books.shop();
        let last = books.last_cost(&product.id).to_decimal(shop.currency).to_string();
        let suppliers = books.snapshot.facts.suppliers.iter();
        let receive = Receive {
            suppliers: suppliers.map(|own| (own.id.to_string(), own.name.clone())).collect(),
            cost: is_owner.then_some(last),
            currency: shop.currency.code(),
        };
        Self { receive: Some(receive), ..self }
    }

    /// Whether this form was sent, and so stands open.
    pub(super) fn is(&self, act: &str) -> bool {
        self.act == act
    }

    /// What a form was sent with.
    pub(super) fn sent(&self, act: &str, name: &str) -> &str {
        if self.act == act { self.fields.shown(name) } else { "" }
    }

    /// How far one press of a stepper goes.
    pub(super) fn step(&self) -> &'static str {
        self.measures.first().map_or("1", |first| first.step)
    }

    /// Why something is thrown away: the word of a form and what the page says.
    pub(super) fn reasons(&self) -> [(&'static str, String); 4] {
        let reason = |word, name| (word, words().say(name).to_string());
        [
            reason("expired", "reason-expired"),
            reason("spilled", "reason-spilled"),
            reason("damaged", "reason-damaged"),
            reason("returned", "reason-returned"),
        ]
    }

    /// Whether an option was chosen.
    pub(super) fn chose(&self, act: &str, name: &str, value: &str) -> bool {
        self.act == act && self.fields.shown(name) == value
    }
}

/// What can be opened, and what each way says of the one that stands open.
fn opens(books: &Books, product: &Product, one: Option<&Container>) -> Vec<(String, String)> {
    let t = words();
    let is_sealed = |own: &&Container| own.state() == ContainerState::Sealed;
    if let Some(own) = one.filter(is_sealed) {
        return vec![(own.id.to_string(), own.id.to_string())];
    }
    let sealed = books.sealed(product);
    if one.is_some() || sealed.is_empty() {
        return Vec::new();
    }
    let own = |own: &&Container| (own.id.to_string(), own.id.to_string());
    if books.open(product).is_empty() {
        return sealed.iter().map(own).collect();
    }
    let next = (String::new(), t.say("open-next").to_string());
    let beside = |own: &&Container| {
        (own.id.to_string(), t.say("open-beside").with("id", &own.id).to_string())
    };
    std::iter::once(next).chain(sealed.iter().map(beside)).collect()
}

fn weigh(books: &Books, product: &Product, one: Option<&Container>) -> Weigh {
    let t = words();
    if product.quantity_of_gross(Decimal::ONE, 1).is_err() {
        return Weigh::Never;
    }
    if one.is_none() && books.open(product).len() > 1 {
        return Weigh::EachAlone;
    }
    let tare = product.tare_g.map(|tare| tare.normalize().to_string());
    let density = product.density_g_ml.unwrap_or(Decimal::ONE).normalize();
    let text = match tare {
        Some(tare) => t.say("weigh-text").with("tare", format!("{tare} g")),
        None => t.say("weigh-no-tare"),
    };
    Weigh::On(text.with("density", format!("{density} g")).to_string())
}

impl Books {
    /// What one container cost the last time it came, else as its preferred offer has it.
    pub(super) fn last_cost(&self, product: &Id) -> Money {
        let facts = &self.snapshot.facts;
        let came = facts.receipts.iter().filter(|own| own.product == *product);
        if let Some(last) = came.max_by_key(|own| own.at) {
            return last.unit_cost;
        }
        let offers = facts.offers.iter().filter(|own| own.product == *product);
        let best = offers.min_by_key(|own| (!own.preferred, own.price));
        best.map_or_else(Money::default, |own| own.price.share(1, own.pack.max(1).into()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_with_a_comma_or_in_caps_is_read() {
        let fields = in_units(&Fields::read(
            b"quantity=2&measure=caps&water=4%2C5&gross_g=10&scale=oz&sealed=",
        ));
        assert_eq!((fields.shown("quantity"), fields.shown("unit")), ("30", "mL"));
        assert_eq!(fields.shown("water"), "4.5");
        // An avoirdupois ounce is 28.349523125 g (NIST Handbook 44).
        assert_eq!(fields.shown("gross_g"), "283.495");
        assert_eq!(fields.text("sealed"), None);
    }

    #[test]
    fn a_unit_without_a_quantity_says_nothing() {
        let fields = in_units(&Fields::read(b"quantity=&measure=mL&gross_g=900"));
        assert_eq!((fields.text("unit"), fields.shown("gross_g")), (None, "900"));
    }
}
