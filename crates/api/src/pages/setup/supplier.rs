//! A supplier, and its offers: what it sells, in which packs, for how much.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::{Currency, Id, Money, Offer, Supplier, Word};
use capful_folder::cells;
use capful_store::{Change, Versioned};
use chrono::Weekday;

use super::entry::{Entries, Entry, words_of};
use super::saving::{Editing, id_of, save, with_points};
use crate::api::Api;
use crate::known::{Known, known};
use crate::page;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::page_of;
use crate::pages::stretch::{Begins, Stretch};
use crate::pages::visitor::{Owner, Visitor};
use crate::path::{Named, segment};
use crate::problem::Problem;
use crate::written::{OfferBody, OfferName, Reader, SupplierBody};

const NAMES: [&str; 6] =
    ["name", "lead_days", "lead_days_sd", "freight", "free_freight_over", "minimum_order"];

#[derive(Template)]
#[template(path = "setup/supplier.html")]
struct SupplierPage {
    frame: Frame,
    /// Nothing where it is new.
    id: Option<String>,
    editing: Editing,
    entries: Vec<Entry>,
    offers: Vec<OfferForm>,
    before: Option<String>,
    next: Option<String>,
    /// The offer that could not be saved.
    offer: Option<OfferForm>,
    products: Vec<(String, String)>,
    currency: &'static str,
}

/// One offer as a form.
#[derive(Debug, Clone, Default)]
struct OfferForm {
    product: String,
    name: String,
    pack: String,
    price: String,
    /// The price as it is read.
    says: String,
    code: String,
    minimum_packs: String,
    preferred: bool,
    version: i64,
    wrong: Option<Problem>,
}

/// `GET /setup/suppliers/new`
pub(crate) async fn get_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    shown(&api, &visitor, None, Editing::default(), None, Begins::default()).await
}

/// `GET /setup/suppliers/{id}`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
    uri: Uri,
) -> Result<Response, Problem> {
    let (fields, version) = there(&api, &visitor, &id).await?;
    shown(&api, &visitor, Some(&id), Editing::of(fields, version), None, Begins::of(&uri)).await
}

/// A supplier's fields as they are saved, and their version.
async fn there(api: &Api, visitor: &Visitor, id: &Id) -> Result<(Fields, i64), Problem> {
    let currency = known(api, &visitor.caller).await?.shop.currency;
    let listed = api.store.get::<Supplier>(visitor.caller.shop, id.as_str()).await?;
    Ok((fields_of(&listed.row, currency), listed.place.version))
}

fn fields_of(supplier: &Supplier, currency: Currency) -> Fields {
    let mut fields = Fields::default();
    let money = |money: Money| money.to_decimal(currency).to_string();
    let over_nothing = |some: Money| (some != Money::ZERO).then(|| money(some));
    let mut set = |name: &str, value: Option<String>| {
        fields.set(name, value.unwrap_or_default());
    };
    set("name", Some(supplier.name.clone()));
    set("lead_days", Some(supplier.lead_days.to_string()));
    set("lead_days_sd", supplier.lead_days_sd.map(|sd| sd.to_string()));
    set("freight", over_nothing(supplier.freight));
    set("free_freight_over", supplier.free_freight_over.map(money));
    set("minimum_order", over_nothing(supplier.minimum_order));
    for day in &supplier.order_weekdays {
        fields.add("order_weekdays", day.word());
    }
    fields
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: Option<&Id>,
    editing: Editing,
    offer: Option<OfferForm>,
    from: Begins,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let t = words();
    let title = match id {
        Some(_) => editing.fields.shown("name").to_owned(),
        None => t.say("supplier-new").to_string(),
    };
    let offers = match id {
        Some(id) => offers(api, visitor, &known, id).await?,
        None => Vec::new(),
    };
    let days = words_of("weekday", &Weekday::WORDS.iter().map(|day| day.0).collect::<Vec<_>>());
    let mut entries = Entries::of("supplier", &editing)
        .must("name")
        .must_number("lead_days")
        .number("lead_days_sd")
        .ticks("order_weekdays", &days)
        .number("freight")
        .number("free_freight_over")
        .number("minimum_order");
    if id.is_none() {
        entries = entries.text("id");
    }
    let entries = entries.end();
    let path = format!("/setup/suppliers/{}", id.map_or_else(|| "new".to_owned(), segment));
    let Stretch { rows: offers, before, next } = from.stretch(offers, &path);
    let frame = Frame::of(api, visitor, Place::More, title, path).await?;
    let products = known.products.values();
    let products = products.map(|own| (own.id.to_string(), own.name.clone())).collect();
    let status = match &offer {
        Some(offer) if offer.wrong.is_some() => axum::http::StatusCode::UNPROCESSABLE_ENTITY,
        _ => editing.status(),
    };
    let (id, currency) = (id.map(Id::to_string), known.shop.currency.code());
    page_of(
        status,
        &SupplierPage {
            frame,
            id,
            editing,
            entries,
            offers,
            before,
            next,
            offer,
            products,
            currency,
        },
    )
}

async fn offers(
    api: &Api,
    visitor: &Visitor,
    known: &Known,
    supplier: &Id,
) -> Result<Vec<OfferForm>, Problem> {
    let all = page::whole::<Offer>(api, &visitor.caller).await?;
    let own = all.iter().filter(|listed| listed.row.supplier == *supplier);
    let mut own: Vec<OfferForm> = own.map(|listed| offer_form(listed, known)).collect();
    own.sort_by(|one, other| one.name.cmp(&other.name));
    Ok(own)
}

fn offer_form(listed: &Versioned<Offer>, known: &Known) -> OfferForm {
    let Versioned { place, row } = listed;
    let name = known.products.get(&row.product).map(|product| product.name.clone());
    OfferForm {
        product: row.product.to_string(),
        name: name.unwrap_or_else(|| row.product.to_string()),
        pack: row.pack.to_string(),
        price: row.price.to_decimal(known.shop.currency).to_string(),
        says: Measures::of(&known.shop).money(row.price),
        code: row.code.clone().unwrap_or_default(),
        minimum_packs: row.minimum_packs.to_string(),
        preferred: row.preferred,
        version: place.version,
        wrong: None,
    }
}

/// `POST /setup/suppliers/new`
pub(crate) async fn post_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
    mut form: Form,
) -> Result<Response, Problem> {
    let id = id_of::<Supplier>(&api, &visitor.caller, &form.fields).await?;
    form.fields.set("version", "0");
    let saved = match Id::parse(&id) {
        Ok(id) => saved(&api, &visitor, &id, &mut form).await,
        Err(wrong) => Err(Problem::field("id", wrong.to_string())),
    };
    match saved {
        Err(wrong) => {
            let editing = Editing::again(&form, super::taken(wrong), None)?;
            shown(&api, &visitor, None, editing, None, Begins::default()).await
        }
        done => done,
    }
}

/// `POST /setup/suppliers/{id}`
pub(crate) async fn post(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
    mut form: Form,
) -> Result<Response, Problem> {
    match saved(&api, &visitor, &id, &mut form).await {
        Err(wrong) => {
            let now = there(&api, &visitor, &id).await?;
            let editing = Editing::again(&form, wrong, Some(now))?;
            shown(&api, &visitor, Some(&id), editing, None, Begins::default()).await
        }
        done => done,
    }
}

async fn saved(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    form: &mut Form,
) -> Result<Response, Problem> {
    with_points(&mut form.fields, &NAMES[1..]);
    let body: SupplierBody = form.fields.body(&NAMES, &["order_weekdays"])?;
    let known = known(api, &visitor.caller).await?;
    let mut reader = Reader::new(api, &known, api.now());
    let supplier = body.read(&mut reader, id);
    let change = Change::Supplier(reader.end(supplier)?);
    save(api, form, &change, &format!("/setup/suppliers/{}", segment(id))).await
}

/// `POST /setup/suppliers/{id}/offers`
pub(crate) async fn post_offer(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
    mut form: Form,
) -> Result<Response, Problem> {
    with_points(&mut form.fields, &["price"]);
    match offer_saved(&api, &visitor, &id, &form).await {
        Err(wrong) => {
            let again = Editing::again(&form, wrong, None)?;
            let fields = &again.fields;
            // Sent once more, it is of what stands there now, which is seen beside it.
            let key = format!("{id}, {}, {}", fields.shown("product"), fields.shown("pack"));
            let now = api.store.get::<Offer>(visitor.caller.shop, &key).await.ok();
            let text = |name: &str| fields.shown(name).to_owned();
            let offer = OfferForm {
                product: text("product"),
                pack: text("pack"),
                price: text("price"),
                code: text("code"),
                minimum_packs: text("minimum_packs"),
                preferred: fields.text("preferred").is_some(),
                version: now.map_or(again.version, |now| now.place.version),
                wrong: again.wrong,
                ..OfferForm::default()
            };
            let (fields, version) = there(&api, &visitor, &id).await?;
            shown(
                &api,
                &visitor,
                Some(&id),
                Editing::of(fields, version),
                Some(offer),
                Begins::default(),
            )
            .await
        }
        done => done,
    }
}

async fn offer_saved(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    form: &Form,
) -> Result<Response, Problem> {
    let mut body: OfferBody = form.fields.body(&["price", "code", "minimum_packs"], &[])?;
    body.preferred = form.fields.text("preferred").is_some();
    let (product, pack) = (form.fields.shown("product"), form.fields.shown("pack"));
    let product = Id::parse(product).map_err(|_| Problem::field("product", "choose a product"))?;
    let no_pack = |_| Problem::field("pack", "how many containers are in a pack, from 1");
    let pack = cells::containers(pack).map_err(no_pack)?;
    let name = OfferName::new(id.clone(), product, pack);
    let known = known(api, &visitor.caller).await?;
    let mut reader = Reader::new(api, &known, api.now());
    let offer = body.read(&mut reader, &name);
    let change = Change::Offer(reader.end(offer)?);
    save(api, form, &change, &format!("/setup/suppliers/{}#offers", segment(id))).await
}
