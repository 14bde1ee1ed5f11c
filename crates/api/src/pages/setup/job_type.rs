//! A job type and its usage sheet: what the owner expects it to take, at medium size and
//! condition 3.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Currency, Id, JobType, SheetRow, Unit};
use capful_store::{Change, Versioned};
use serde_json::{Value, json};

use super::entry::{Entries, Entry};
use super::saving::{Editing, id_of, save, with_points};
use crate::api::Api;
use crate::known::{Known, known};
use crate::page;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page_of;
use crate::pages::visitor::{Owner, Visitor};
use crate::path::{Named, segment};
use crate::problem::Problem;
use crate::written::{JobTypeBody, Reader};

const NAMES: [&str; 6] =
    ["name", "price", "stall_cost", "return_days", "return_share", "return_job_type"];

/// The columns of the sheet.
const COLUMNS: [&str; 6] = ["product", "quantity", "unit", "water", "share_of_jobs", "log_sd"];

/// Rows that are left empty below the sheet.
const EMPTY_ROWS: usize = 3;

#[derive(Template)]
#[template(path = "setup/job_type.html")]
struct JobTypePage {
    frame: Frame,
    /// Nothing where it is new.
    id: Option<String>,
    editing: Editing,
    entries: Vec<Entry>,
    rows: Vec<RowForm>,
    /// The sheet that somebody else has saved meanwhile.
    saved_rows: Vec<String>,
    products: Vec<(String, String)>,
    units: Vec<&'static str>,
}

/// A row of the sheet.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct RowForm {
    product: String,
    /// What it is called where it is spoken of.
    name: String,
    quantity: String,
    unit: String,
    water: String,
    share_of_jobs: String,
    log_sd: String,
    wrong: String,
}

/// `GET /setup/job-types/new`
pub(crate) async fn get_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    shown(&api, &visitor, None, Editing::default()).await
}

/// `GET /setup/job-types/{id}`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
) -> Result<Response, Problem> {
    let (fields, version) = there(&api, &visitor, &id).await?;
    shown(&api, &visitor, Some(&id), Editing::of(fields, version)).await
}

/// A job type's fields and its sheet as they are saved, and their version.
async fn there(api: &Api, visitor: &Visitor, id: &Id) -> Result<(Fields, i64), Problem> {
    let currency = known(api, &visitor.caller).await?.shop.currency;
    let listed = api.store.get::<JobType>(visitor.caller.shop, id.as_str()).await?;
    let mut fields = fields_of(&listed.row, currency);
    let sheet: Vec<Versioned<SheetRow>> = page::whole(api, &visitor.caller).await?;
    for row in sheet.iter().map(|listed| &listed.row).filter(|row| row.job_type == *id) {
        let maybe = |number: Option<&rust_decimal::Decimal>| {
            number.map(ToString::to_string).unwrap_or_default()
        };
        fields.add("product", row.product.as_str());
        fields.add("quantity", row.amount.number.to_string());
        fields.add("unit", row.amount.unit.symbol());
        fields.add("water", row.ratio.map(|own| own.water().to_string()).unwrap_or_default());
        fields.add("share_of_jobs", maybe(row.share_of_jobs.as_ref()));
        fields.add("log_sd", maybe(row.log_sd.as_ref()));
    }
    Ok((fields, listed.place.version))
}

fn fields_of(job_type: &JobType, currency: Currency) -> Fields {
    let mut fields = Fields::default();
    let mut set = |name: &str, value: Option<String>| {
        fields.set(name, value.unwrap_or_default());
    };
    let back = job_type.comes_back.as_ref();
    set("name", Some(job_type.name.clone()));
    set("price", job_type.price.map(|price| price.to_decimal(currency).to_string()));
    set("stall_cost", job_type.stall_cost.map(|cost| cost.to_decimal(currency).to_string()));
    set("return_days", back.map(|back| back.days.to_string()));
    set("return_share", back.map(|back| back.share.to_string()));
    set("return_job_type", back.and_then(|back| Some(back.job_type.as_ref()?.to_string())));
    fields
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: Option<&Id>,
    editing: Editing,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let types = page::whole::<JobType>(api, &visitor.caller).await?;
    let mut next = vec![(String::new(), words().say("job-type-return-same").to_string())];
    next.extend(types.into_iter().map(|own| (own.row.id.to_string(), own.row.name)));
    let title = match id {
        Some(_) => editing.fields.shown("name").to_owned(),
        None => words().say("job-type-new").to_string(),
    };
    let entries = Entries::of("job-type", &editing).must("name").number("price");
    let entries = entries.number("stall_cost").number("return_days").number("return_share");
    let mut entries = entries.choice("return_job_type", &next);
    if id.is_none() {
        entries = entries.text("id");
    }
    let entries = entries.end();
    let mut rows = rows(&editing.fields, &known, editing.wrong.as_ref());
    rows.extend(vec![RowForm::default(); EMPTY_ROWS]);
    let saved = editing.saved.as_ref().map(|saved| self::rows(saved, &known, None));
    let saved_rows = saved.unwrap_or_default();
    let is_same = saved_rows.iter().eq(rows.iter().take(rows.len() - EMPTY_ROWS));
    let saved_rows = match is_same {
        true => Vec::new(),
        false => saved_rows.iter().map(RowForm::says).collect(),
    };
    let path = format!("/setup/job-types/{}", id.map_or_else(|| "new".to_owned(), segment));
    let frame = Frame::of(api, visitor, Place::More, title, path).await?;
    let products = known.products.values();
    let products = products.map(|own| (own.id.to_string(), own.name.clone())).collect();
    let units = Unit::ALL.iter().map(|unit| unit.symbol()).collect();
    let (id, status) = (id.map(Id::to_string), editing.status());
    let page = JobTypePage { frame, id, editing, entries, rows, saved_rows, products, units };
    page_of(status, &page)
}

/// The rows of a sheet that a form holds; those without a product are empty.
fn rows(fields: &Fields, known: &Known, wrong: Option<&Problem>) -> Vec<RowForm> {
    let columns = COLUMNS.map(|name| fields.all(name).collect::<Vec<_>>());
    let [products, ..] = &columns;
    let mut rows = Vec::new();
    for (index, product) in products.iter().enumerate().filter(|(_, own)| !own.is_empty()) {
        let at = |column: usize| columns[column].get(index).copied().unwrap_or_default().to_owned();
        let own = known.products.iter().find(|(id, _)| id.as_str() == *product);
        rows.push(RowForm {
            product: (*product).to_owned(),
            name: own.map_or_else(|| (*product).to_owned(), |(_, own)| own.name.clone()),
            quantity: at(1),
            unit: at(2),
            water: at(3),
            share_of_jobs: at(4),
            log_sd: at(5),
            wrong: wrong.map(|wrong| told(wrong, rows.len())).unwrap_or_default(),
        });
    }
    rows
}

/// What is wrong with a row.
fn told(wrong: &Problem, row: usize) -> String {
    let start = format!("usage_sheet[{row}].");
    let all = wrong.errors.iter().map(|error| (error.field.as_str(), error.detail.as_str()));
    let only = wrong.field.iter().map(|field| (field.as_str(), wrong.detail.as_str()));
    let all = all.chain(only.filter(|_| wrong.errors.is_empty()));
    let own = all.filter_map(|(field, detail)| {
        field.strip_prefix(&start).map(|column| format!("{column}: {detail}"))
    });
    own.collect::<Vec<_>>().join("; ")
}

impl RowForm {
    /// The row on one line.
    fn says(&self) -> String {
        let Self { name, quantity, unit, water, .. } = self;
        match water.as_str() {
            "" => format!("{name}: {quantity} {unit}"),
            water => format!("{name}: {quantity} {unit}, {water}:1"),
        }
    }

    fn body(&self) -> Value {
        let maybe = |text: &str| match text.replace(',', ".") {
            none if none.is_empty() => Value::Null,
            text => text.into(),
        };
        json!({
            "product": self.product, "quantity": self.quantity.replace(',', "."),
            "unit": maybe(&self.unit), "water": maybe(&self.water),
            "share_of_jobs": maybe(&self.share_of_jobs), "log_sd": maybe(&self.log_sd),
        })
    }
}

/// `POST /setup/job-types/new`
pub(crate) async fn post_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
    mut form: Form,
) -> Result<Response, Problem> {
    let id = id_of::<JobType>(&api, &visitor.caller, &form.fields).await?;
    form.fields.set("version", "0");
    let saved = match Id::parse(&id) {
        Ok(id) => saved(&api, &visitor, &id, &mut form).await,
        Err(wrong) => Err(Problem::field("id", wrong.to_string())),
    };
    match saved {
        Err(wrong) => {
            let editing = Editing::again(&form, super::taken(wrong), None)?;
            shown(&api, &visitor, None, editing).await
        }
        done => done,
    }
}

/// `POST /setup/job-types/{id}`
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
            shown(&api, &visitor, Some(&id), editing).await
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
    with_points(&mut form.fields, &["price", "stall_cost", "return_share"]);
    let known = known(api, &visitor.caller).await?;
    let mut body: Value = form.fields.body(&NAMES, &[])?;
    let sheet: Vec<Value> = rows(&form.fields, &known, None).iter().map(RowForm::body).collect();
    body["usage_sheet"] = sheet.into();
    if body.get("name").is_none() {
        return Err(Problem::field("name", "this has to be filled in"));
    }
    let body: JobTypeBody =
        serde_json::from_value(body).map_err(|error| Problem::field("name", error.to_string()))?;
    let mut reader = Reader::new(api, &known, api.now());
    let read = body.read(&mut reader, id);
    let (job_type, sheet) = reader.end(read)?;
    let change = Change::Service(job_type, sheet.unwrap_or_default());
    save(api, form, &change, "/setup/job-types").await
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::{Kind, OneError};

    #[test]
    fn what_is_wrong_stands_at_its_row() {
        let error = |field: &str| OneError { field: field.to_owned(), detail: "odd".to_owned() };
        let errors = vec![error("name"), error("usage_sheet[1].quantity")];
        let wrong = Problem { errors, ..Problem::new(Kind::BadBody, "2 fields") };
        assert_eq!(told(&wrong, 0), "");
        assert_eq!(told(&wrong, 1), "quantity: odd");
        assert_eq!(told(&Problem::field("usage_sheet[0].water", "odd"), 0), "water: odd");
    }
}
