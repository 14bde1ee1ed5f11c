//! A product: everything that a row of `products.csv` holds, and the ratios that it is used at.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Form as Sold, Id, NamedRatio, Product, Unit, Word};
use capful_store::Change;

use super::entry::{Choice, Entries, Entry, words_of};
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
use crate::written::{ProductBody, RatioBody, Reader};

const NAMES: [&str; 12] = [
    "name",
    "unit",
    "container_size",
    "category",
    "form",
    "shelf_days",
    "open_days",
    "mix_days",
    "density_g_ml",
    "tare_g",
    "gtin",
    "notes",
];

/// The pictograms of the Globally Harmonized System.
const PICTOGRAMS: [&str; 9] =
    ["GHS01", "GHS02", "GHS03", "GHS04", "GHS05", "GHS06", "GHS07", "GHS08", "GHS09"];
/// What is worn or switched on most.
const PROTECTION: [&str; 4] = ["gloves", "goggles", "respirator", "ventilation"];
/// Products in place of this one that can be chosen, beside those that are.
const MORE_SUBSTITUTES: usize = 2;

#[derive(Template)]
#[template(path = "setup/product.html")]
struct ProductPage {
    frame: Frame,
    /// Nothing where it is new.
    id: Option<String>,
    editing: Editing,
    parts: Vec<(String, Vec<Entry>)>,
    ratios: Vec<RatioForm>,
    /// The ratio that could not be saved.
    ratio: RatioForm,
}

/// A ratio as a form.
#[derive(Debug, Clone, Default)]
struct RatioForm {
    label: String,
    water: String,
    version: i64,
    wrong: Option<Problem>,
}

/// `GET /setup/products/new`
pub(crate) async fn get_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let mut fields = Fields::default();
    fields.set("form", Sold::ReadyToUse.word());
    shown(&api, &visitor, None, Editing::of(fields, 0), RatioForm::default()).await
}

/// `GET /setup/products/{id}`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
) -> Result<Response, Problem> {
    let (fields, version) = there(&api, &visitor, &id).await?;
    shown(&api, &visitor, Some(&id), Editing::of(fields, version), RatioForm::default()).await
}

/// A product's fields as they are saved, and their version.
async fn there(api: &Api, visitor: &Visitor, id: &Id) -> Result<(Fields, i64), Problem> {
    let listed = api.store.get::<Product>(visitor.caller.shop, id.as_str()).await?;
    Ok((fields_of(&listed.row), listed.place.version))
}

fn fields_of(product: &Product) -> Fields {
    let mut fields = Fields::default();
    let size = &product.container_size;
    let held = match size.unit == product.unit {
        true => size.number,
        false => product.size().in_unit(product.unit),
    };
    let mut set = |name: &str, value: Option<String>| {
        fields.set(name, value.unwrap_or_default());
    };
    let days = |days: Option<u32>| days.map(|days| days.to_string());
    set("name", Some(product.name.clone()));
    set("unit", Some(product.unit.symbol().to_owned()));
    set("container_size", Some(held.to_string()));
    set("category", product.category.clone());
    set("form", Some(product.form.word().to_owned()));
    set("shelf_days", days(product.shelf_days));
    set("open_days", days(product.open_days));
    set("mix_days", days(product.mix_days));
    set("density_g_ml", product.density_g_ml.map(|density| density.to_string()));
    set("tare_g", product.tare_g.map(|tare| tare.to_string()));
    set("gtin", product.gtin.clone());
    set("notes", product.notes.clone());
    for hazard in &product.hazards {
        let is_pictogram = PICTOGRAMS.contains(&hazard.as_str());
        fields.add(if is_pictogram { "pictograms" } else { "statements" }, hazard);
    }
    for protection in &product.protection {
        fields.add("protection", protection);
    }
    for substitute in &product.substitutes {
        fields.add("substitutes", substitute.as_str());
    }
    fields
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: Option<&Id>,
    editing: Editing,
    ratio: RatioForm,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let title = match id {
        Some(_) => editing.fields.shown("name").to_owned(),
        None => words().say("product-new").to_string(),
    };
    let ratios = match id {
        Some(id) => ratios(api, visitor, id).await?,
        None => Vec::new(),
    };
    let parts = parts(&editing, &known, id);
    let path = format!("/setup/products/{}", id.map_or_else(|| "new".to_owned(), segment));
    let frame = Frame::of(api, visitor, Place::More, title, path).await?;
    let status = match ratio.wrong {
        Some(_) => axum::http::StatusCode::UNPROCESSABLE_ENTITY,
        None => editing.status(),
    };
    let id = id.map(Id::to_string);
    page_of(status, &ProductPage { frame, id, editing, parts, ratios, ratio })
}

/// The form, in parts of what belongs together.
fn parts(editing: &Editing, known: &Known, id: Option<&Id>) -> Vec<(String, Vec<Entry>)> {
    let same = |word: &str| (word.to_owned(), word.to_owned());
    let units: Vec<_> = Unit::ALL.iter().map(|unit| same(unit.symbol())).collect();
    let forms = words_of("product-form", &[Sold::ReadyToUse.word(), Sold::Concentrate.word()]);
    let of = || Entries::of("product", editing);
    let mut first = of()
        .must("name")
        .must_number("container_size")
        .choice("unit", &units)
        .choice("form", &forms)
        .text("category");
    if id.is_none() {
        first = first.text("id");
    }
    let lives = of().number("shelf_days").number("open_days").number("mix_days");
    let pictograms = words_of("pictogram", &PICTOGRAMS);
    let mut protection = words_of("protection", &PROTECTION);
    let others = editing.fields.all("protection").filter(|own| !PROTECTION.contains(own));
    protection.extend(others.map(same));
    let safety = of().ticks("pictograms", &pictograms).long("statements");
    let safety = safety.ticks("protection", &protection);
    let scale = of().number("density_g_ml").number("tare_g").text("gtin");
    let mut rest = of().text("substitutes").long("notes").end();
    if let Some(substitutes) = rest.first_mut() {
        chosen(substitutes, editing, known, id);
    }
    let part = |name: &str, entries| (words().say(name).to_string(), entries);
    vec![
        part("product-part-what", first.end()),
        part("product-part-lives", lives.end()),
        part("product-part-safety", safety.end()),
        part("product-part-scale", scale.end()),
        part("product-part-rest", rest),
    ]
}

/// What serves in its place, best first: lists to choose from, one behind the other.
fn chosen(entry: &mut Entry, editing: &Editing, known: &Known, id: Option<&Id>) {
    entry.kind = "choices";
    let typed = editing.fields.all("substitutes").filter(|own| !own.is_empty());
    entry.slots = typed.map(str::to_owned).collect();
    entry.slots.extend(vec![String::new(); MORE_SUBSTITUTES]);
    let others = known.products.values().filter(|own| Some(&own.id) != id);
    let choice =
        |own: &Product| Choice { value: own.id.to_string(), label: own.name.clone(), on: false };
    entry.choices = others.map(choice).collect();
}

async fn ratios(api: &Api, visitor: &Visitor, id: &Id) -> Result<Vec<RatioForm>, Problem> {
    let all = page::whole::<NamedRatio>(api, &visitor.caller).await?;
    let own = all.into_iter().filter(|listed| listed.row.product == *id);
    let form = |listed: capful_store::Versioned<NamedRatio>| RatioForm {
        label: listed.row.label,
        water: listed.row.ratio.water().to_string(),
        version: listed.place.version,
        wrong: None,
    };
    Ok(own.map(form).collect())
}

/// `POST /setup/products/new`
pub(crate) async fn post_new(
    State(api): State<Api>,
    Owner(visitor): Owner,
    mut form: Form,
) -> Result<Response, Problem> {
    let id = id_of::<Product>(&api, &visitor.caller, &form.fields).await?;
    form.fields.set("version", "0");
    let saved = match Id::parse(&id) {
        Ok(id) => saved(&api, &visitor, &id, &mut form).await,
        Err(wrong) => Err(Problem::field("id", wrong.to_string())),
    };
    match saved {
        Err(wrong) => {
            let editing = Editing::again(&form, super::taken(wrong), None)?;
            shown(&api, &visitor, None, editing, RatioForm::default()).await
        }
        done => done,
    }
}

/// `POST /setup/products/{id}`
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
            shown(&api, &visitor, Some(&id), editing, RatioForm::default()).await
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
    with_points(&mut form.fields, &["container_size", "density_g_ml", "tare_g"]);
    let mut body: ProductBody = form.fields.body(&NAMES, &["protection", "substitutes"])?;
    body.hazards = hazards(&form.fields);
    let known = known(api, &visitor.caller).await?;
    let mut reader = Reader::new(api, &known, api.now());
    let product = body.read(&mut reader, id);
    let change = Change::Product(Box::new(reader.end(product)?));
    save(api, form, &change, "/setup/products").await
}

/// Pictograms that are ticked, and statements as they are written: with lines, commas or semicolons
/// between; codes alone with spaces too.
fn hazards(fields: &Fields) -> Vec<String> {
    let is_code = |word: &str| word.starts_with(['H', 'E']) && word.ends_with(char::is_numeric);
    let statements = fields.all("statements");
    let mut hazards: Vec<String> = fields.all("pictograms").map(str::to_owned).collect();
    for text in statements.flat_map(|text| text.split([',', ';', '\n'])) {
        let all: Vec<&str> = text.split_whitespace().collect();
        match all.iter().all(|word| is_code(word)) {
            true => hazards.extend(all.into_iter().map(str::to_owned)),
            false => hazards.push(text.trim().to_owned()),
        }
    }
    let mut seen = BTreeSet::new();
    hazards.retain(|code| seen.insert(code.clone()));
    hazards
}

/// `POST /setup/products/{id}/ratios`
pub(crate) async fn post_ratio(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
    mut form: Form,
) -> Result<Response, Problem> {
    with_points(&mut form.fields, &["water"]);
    match ratio_saved(&api, &visitor, &id, &form).await {
        Err(wrong) => {
            let again = Editing::again(&form, wrong, None)?;
            let text = |name: &str| again.fields.shown(name).to_owned();
            let key = format!("{id}, {}", text("label"));
            let now = api.store.get::<NamedRatio>(visitor.caller.shop, &key).await.ok();
            let ratio = RatioForm {
                label: text("label"),
                water: text("water"),
                version: now.map_or(again.version, |now| now.place.version),
                wrong: again.wrong,
            };
            let (fields, version) = there(&api, &visitor, &id).await?;
            shown(&api, &visitor, Some(&id), Editing::of(fields, version), ratio).await
        }
        done => done,
    }
}

async fn ratio_saved(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    form: &Form,
) -> Result<Response, Problem> {
    let body: RatioBody = form.fields.body(&["water"], &[])?;
    let known = known(api, &visitor.caller).await?;
    let mut reader = Reader::new(api, &known, api.now());
    let ratio = body.read(&mut reader, id, form.fields.shown("label"));
    let change = Change::Ratio(reader.end(ratio)?);
    save(api, form, &change, &format!("/setup/products/{}#ratios", segment(id))).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hazards_are_pictograms_and_statements() {
        let fields = Fields::read(
            b"pictograms=GHS05&pictograms=GHS07&statements=H314+H318%0D%0AH314%3B+H302+lungs",
        );
        assert_eq!(hazards(&fields), ["GHS05", "GHS07", "H314", "H318", "H302 lungs"]);
    }
}
