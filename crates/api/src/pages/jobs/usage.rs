//! Usage: what each job type really takes, beside what its sheet says.

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::response::Response;
use capful_domain::{Amount, Condition, Id, JobType, Quantity, SheetRow, VehicleSize, Word};
use capful_folder::cells;
use capful_forecast::plan::{AmountIn, UsageRow};
use capful_store::{Change, Effects};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::size_name;
use crate::api::Api;
use crate::known::{Known, known};
use crate::pages::drawing;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page};
use crate::pages::visitor::Visitor;
use crate::problem::{Kind, Problem};
use crate::written::{Reader, refusal};

/// The amount of a sheet's row, in places that can be poured.
const PLACES: u32 = 3;

#[derive(Template)]
#[template(path = "usage.html")]
struct UsagePage {
    frame: Frame,
    types: Vec<(String, String, bool)>,
    sizes: Vec<(String, String, bool)>,
    grades: Vec<(String, String, bool)>,
    /// What is shown: the job type, and of which size and condition.
    heading: String,
    shape: String,
    lines: Vec<Line>,
    /// Where the same is drawn whole.
    picture: String,
    /// Where the sheet is not what jobs of this type take.
    changed: Vec<Changed>,
    /// Other job types in which some are: their addresses, names and how many.
    elsewhere: Vec<(String, String, usize)>,
}

/// What a job type takes of a product.
struct Line {
    product: String,
    mean: String,
    sheet: String,
    /// How sure that is, in words, and drawn beside the sheet.
    sure: String,
    drawing: String,
}

/// A row of the sheet that is not what jobs take.
struct Changed {
    product: String,
    /// What the form that sets it sends.
    job_type_id: String,
    product_id: String,
    quantity: String,
    amount: String,
    text: String,
    can_be_set: bool,
}

/// `GET /usage?type=&size=&condition=`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    RawQuery(query): RawQuery,
) -> Result<Response, Problem> {
    let asked = Fields::read(query.unwrap_or_default().as_bytes());
    let known = known(&api, &visitor.caller).await?;
    let size = asked.text("size").map_or(Some(VehicleSize::Medium), VehicleSize::from_word);
    let size = size.ok_or_else(|| wrong("size", &asked, "small, medium, large or oversize"))?;
    let grade = asked.text("condition").map_or(Ok(3), str::parse).ok();
    let condition = grade.and_then(Condition::new);
    let condition = condition.ok_or_else(|| wrong("condition", &asked, "a grade from 1 to 5"))?;
    let rows = known.usage_at(&api, &visitor.caller, size, condition).await?;
    let usual = (VehicleSize::Medium, Condition::REFERENCE);
    let at_usual = known.usage_at(&api, &visitor.caller, usual.0, usual.1).await?;
    let chosen = chosen(&known, &asked)?;
    let of_type = |row: &&UsageRow| chosen.is_some_and(|own| own.id.as_str() == row.job_type);
    let mut lines: Vec<&UsageRow> = rows.iter().filter(of_type).collect();
    lines.sort_by(|a, b| name_of(&known, a).cmp(name_of(&known, b)));
    let title = words().say("usage-title");
    let is_it = |own: &JobType| chosen.is_some_and(|chosen| chosen.id == own.id);
    let types = known.job_types.iter();
    page(&UsagePage {
        frame: Frame::of(&api, &visitor, Place::Jobs, title, "/usage").await?,
        types: types.map(|own| (own.id.to_string(), own.name.clone(), is_it(own))).collect(),
        sizes: VehicleSize::ALL
            .map(|own| (own.word().to_owned(), size_name(own), own == size))
            .into(),
        grades: Condition::all().map(|own| grade_choice(own, condition)).collect(),
        heading: chosen.map(|own| own.name.clone()).unwrap_or_default(),
        shape: words()
            .say("job-vehicle")
            .with("size", size_name(size))
            .with("condition", condition.grade())
            .to_string(),
        lines: lines.into_iter().filter_map(|row| line(&known, row)).collect(),
        picture: format!(
            "/usage.svg?type={}&size={}&condition={}",
            chosen.map_or("", |own| own.id.as_str()),
            size.word(),
            condition.grade()
        ),
        changed: at_usual.iter().filter(of_type).filter_map(|row| changed(&known, row)).collect(),
        elsewhere: elsewhere(&known, chosen, &at_usual),
    })
}

fn wrong(name: &str, asked: &Fields, expected: &str) -> Problem {
    Problem::query(name, format!("found {:?}, expected {expected}", asked.shown(name)))
}

/// The job type that is asked for, else the first.
fn chosen<'k>(known: &'k Known, asked: &Fields) -> Result<Option<&'k JobType>, Problem> {
    let Some(id) = asked.text("type") else { return Ok(known.job_types.first()) };
    let own = known.job_types.iter().find(|own| own.id.as_str() == id);
    own.map(Some).ok_or_else(|| Problem::not_found("job type", id))
}

fn grade_choice(own: Condition, chosen: Condition) -> (String, String, bool) {
    let name = words().say(&format!("condition-{}", own.grade())).to_string();
    (own.grade().to_string(), name, own == chosen)
}

fn name_of<'k>(known: &'k Known, row: &UsageRow) -> &'k str {
    let id = Id::parse(&row.product).ok();
    id.and_then(|id| known.products.get(&id)).map_or("", |product| &product.name)
}

/// A number of a row as an amount of its product.
fn amount(known: &Known, row: &UsageRow, number: f64) -> Option<String> {
    let product = known.products.get(&Id::parse(&row.product).ok()?)?;
    let amount = AmountIn { amount: number, unit: product.unit.symbol() };
    Some(Measures::of(&known.shop).amount(&amount))
}

fn line(known: &Known, row: &UsageRow) -> Option<Line> {
    let t = words();
    let text = |number| amount(known, row, number);
    let (low, high) = (text(row.mean_p10)?, text(row.mean_p90)?);
    let said = |name| t.say(name).with("low", &low).with("high", &high).with("jobs", row.jobs_seen);
    let sure = said(if row.jobs_seen == 0 { "usage-unseen" } else { "usage-sure" }).to_string();
    let sheet = if row.sheet > 0.0 { text(row.sheet)? } else { String::new() };
    let share = |number: f64| number / row.sheet;
    let label = t.say("usage-drawn").with("low", &low).with("high", &high).with("sheet", &sheet);
    Some(Line {
        product: name_of(known, row).to_owned(),
        mean: text(row.mean)?,
        drawing: match row.sheet > 0.0 {
            true => drawing::spread(
                share(row.mean_p10),
                share(row.mean),
                share(row.mean_p90),
                &label.to_string(),
            ),
            false => String::new(),
        },
        sheet,
        sure,
    })
}

/// The other job types of which the sheet is not what jobs take.
fn elsewhere(
    known: &Known,
    chosen: Option<&JobType>,
    rows: &[UsageRow],
) -> Vec<(String, String, usize)> {
    let others = known.job_types.iter().filter(|own| chosen.is_none_or(|c| c.id != own.id));
    let line = |own: &JobType| {
        let own_rows = rows.iter().filter(|row| row.job_type == own.id.as_str());
        let count = own_rows.filter(|row| is_changed(row)).count();
        (format!("/usage?type={}", own.id), own.name.clone(), count)
    };
    others.map(line).filter(|(_, _, count)| *count > 0).collect()
}

/// Whether the sheet is not within what was learned.
fn is_changed(row: &UsageRow) -> bool {
    let is_within = row.mean_p10 <= row.sheet && row.sheet <= row.mean_p90;
    row.jobs_seen > 0 && !is_within
}

/// A row whose sheet is not within what was learned, told in a sentence.
fn changed(known: &Known, row: &UsageRow) -> Option<Changed> {
    if !is_changed(row) {
        return None;
    }
    let text = |number| amount(known, row, number);
    let name = match row.sheet {
        sheet if sheet <= 0.0 => "usage-not-on-sheet",
        sheet if sheet > row.mean_p90 => "usage-less",
        _ => "usage-more",
    };
    Some(Changed {
        product: name_of(known, row).to_owned(),
        quantity: Decimal::from_f64(row.mean)?.round_dp(4).normalize().to_string(),
        amount: text(row.mean)?,
        text: words()
            .say(name)
            .with("sheet", text(row.sheet)?)
            .with("low", text(row.mean_p10)?)
            .with("high", text(row.mean_p90)?)
            .with("jobs", row.jobs_seen)
            .to_string(),
        can_be_set: own_rows(known, &row.job_type, &row.product).count() <= 1,
        job_type_id: row.job_type.clone(),
        product_id: row.product.clone(),
    })
}

/// The rows of the sheet of a job type and product, one for each ratio.
fn own_rows<'k>(
    known: &'k Known,
    job_type: &'k str,
    product: &'k str,
) -> impl Iterator<Item = &'k SheetRow> {
    let rows = known.sheet.iter();
    rows.filter(move |row| row.job_type.as_str() == job_type && row.product.as_str() == product)
}

/// `POST /usage`: the owner sets a row of the sheet to what was learned.
pub(crate) async fn post(State(api): State<Api>, form: Form) -> Result<Response, Problem> {
    if !form.visitor.is_owner() {
        let detail = words().say("usage-owner").to_string();
        return Err(Problem::new(Kind::ScopeTooNarrow, detail));
    }
    let known = known(&api, &form.visitor.caller).await?;
    let asked = form.asked(&api);
    let mut reader = Reader::new(&api, &known, asked.now);
    let job_type = reader.read("job_type", form.fields.shown("job_type"), cells::id);
    let product = reader.read("product", form.fields.shown("product"), cells::id);
    let mean = reader.read("quantity", form.fields.shown("quantity"), cells::decimal);
    let read = job_type.zip(product).zip(mean);
    let ((job_type, product), mean) = reader.end(read)?;
    let row = row_of(&known, job_type, product, mean)?;
    let path = format!("/usage?type={}", row.job_type);
    let answer = |outcome: &Effects| lead_to(&path, outcome);
    let done = api.store.change(&asked, &Change::SheetRow(row), answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// The row of the sheet by which a job takes this much on average, in the product's unit: how often
/// it is used, and the ratio, stay as they are.
fn row_of(known: &Known, job_type: Id, product: Id, mean: Decimal) -> Result<SheetRow, Problem> {
    let no_such = || Problem::not_found("product", product.as_str());
    let own = known.products.get(&product).ok_or_else(no_such)?;
    let too_large = || Problem::field("quantity", "a quantity that a job can take");
    let before = own_rows(known, job_type.as_str(), product.as_str()).next().cloned();
    let fresh = SheetRow {
        job_type: job_type.clone(),
        product: product.clone(),
        amount: Amount { number: Decimal::ZERO, unit: own.unit },
        ratio: None,
        share_of_jobs: None,
        log_sd: None,
    };
    let before = before.unwrap_or(fresh);
    let share = before.share_of_jobs.filter(|share| *share > Decimal::ZERO);
    let used = mean.checked_div(share.unwrap_or(Decimal::ONE)).ok_or_else(too_large)?;
    let neat = Quantity::from_unit(used, own.unit).map_err(|_| too_large())?;
    let mix = before.ratio.map_or(neat, |ratio| ratio.mix_of(neat));
    // A sheet that was written in a unit of its own goes on in it, where it measures the same.
    let is_same = before.amount.unit.dimension() == own.unit.dimension();
    let unit = if is_same { before.amount.unit } else { own.unit };
    let number = mix.in_unit(unit).round_sf(PLACES).ok_or_else(too_large)?.normalize();
    Ok(SheetRow { amount: Amount { number, unit }, ..before })
}
