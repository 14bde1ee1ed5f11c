//! What is answered once something was written down on the shelf.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::{Movement, MovementKind, Quantity, Source};
use capful_store::{Answer, Change, Effects};
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::known::Known;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::routes::containers::ContainerRow;
use crate::routes::movements::MovementRow;
use crate::written::{Reader, refusal};

/// What was written down, and what it did to the shelf.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct WrittenAnswer {
    /// The ids of the rows that were written, in their order.
    pub ids: Vec<String>,
    /// The lines of the ledger that they made: what went into or out of which container.
    pub movements: Vec<MovementRow>,
    /// The containers that they touched, as they are now.
    pub containers: Vec<ContainerRow>,
    /// What wants a look.
    pub flags: Vec<Flag>,
}

/// Something that wants a look.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct Flag {
    /// `count-it`: more was taken than the books held. `past-use-by`: it was poured from a
    /// container that is past its use-by.
    #[schema(example = "count-it")]
    pub code: &'static str,
    /// Of which product.
    pub product: String,
    /// What, and what to do.
    pub text: String,
}

impl WrittenAnswer {
    /// What the store did.
    pub(crate) fn of(outcome: &Effects, known: &Known) -> Self {
        let rows = outcome.posted.iter();
        let containers = outcome.containers.iter().filter_map(|container| {
            let product = known.products.get(&container.product)?;
            Some(ContainerRow::of(container, product, &known.shop))
        });
        let mut flags = found(&outcome.movements, known);
        flags.extend(past(outcome, known));
        Self {
            ids: outcome.written.clone(),
            movements: rows.filter_map(|row| MovementRow::of(row, &known.products)).collect(),
            containers: containers.collect(),
            flags,
        }
    }
}

/// Products of which more was taken than the books held.
fn found(movements: &[Movement], known: &Known) -> Vec<Flag> {
    let mut surplus: BTreeMap<_, Quantity> = BTreeMap::new();
    let taking = |m: &&Movement| !matches!(m.source, Source::Count(_) | Source::Opening(_));
    let counted = movements.iter().filter(|m| m.kind == MovementKind::Counted).filter(taking);
    for movement in counted.filter(|m| m.reverses.is_none()) {
        *surplus.entry(&movement.product).or_default() += movement.change;
    }
    let flag = |(id, quantity): (_, Quantity)| {
        let product = known.products.get(id)?;
        let (number, unit) = (quantity.in_unit(product.unit), product.unit);
        let text = format!("{number} {unit} more was taken than the books held: count it");
        Some(Flag { code: "count-it", product: product.id.to_string(), text })
    };
    surplus.into_iter().filter_map(flag).collect()
}

/// Containers past their use-by that something was poured from.
fn past(outcome: &Effects, known: &Known) -> Vec<Flag> {
    let poured = |m: &&Movement| m.kind == MovementKind::Poured && m.change < Quantity::ZERO;
    let mut flags = Vec::new();
    for container in &outcome.containers {
        let mut own = outcome.movements.iter().filter(|m| m.container == container.id);
        let Some(movement) = own.find(poured) else { continue };
        let Some(product) = known.products.get(&container.product) else { continue };
        let (day, use_by) = (known.shop.day_of(movement.at), container.use_by(product));
        if let Some(use_by) = use_by.filter(|_| container.is_past(product, day)) {
            let text = format!("{} is past its use-by, {use_by}: look at it", container.id);
            flags.push(Flag { code: "past-use-by", product: product.id.to_string(), text });
        }
    }
    flags
}

/// Writes one body down on the shelf: reads it, does it, tells what it did.
///
/// # Errors
/// [`Problem`] where the body is wrong or the store refuses it.
pub(crate) async fn write<T>(
    api: &Api,
    caller: &Caller,
    once: &Once<T>,
    read: impl FnOnce(&T, &mut Reader<'_>) -> Option<Change>,
) -> Result<Response, Problem> {
    let known = crate::known::known(api, caller).await?;
    let asked = once.asked(caller, api.now());
    let mut reader = Reader::new(api, &known, asked.now);
    let change = read(&once.body, &mut reader);
    let change = reader.end(change)?;
    let answer = |outcome: &Effects| created(&WrittenAnswer::of(outcome, &known));
    let done = api.store.change(&asked, &change, answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, None))?))
}

/// The answer to something new.
pub(crate) fn created(value: &impl Serialize) -> Answer {
    once::answer(StatusCode::CREATED, value)
}
