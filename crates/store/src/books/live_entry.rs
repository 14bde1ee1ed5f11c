//! What is told now is held against what is known: a slip is sent back to who made it, who is still
//! there to be asked. A history is taken as it was written.

use capful_domain::facts::{Count, Opening};
use capful_domain::{Amount, Container, ContainerId, ContainerState, Ledger, Product, Quantity};

use crate::books::shelf::ShelfRow;
use crate::db::error::StoreError;

/// Containers of a product that one count may find.
const MOST_FOUND: u32 = 1000;

/// Whether a row can be so, with the books as they are before it.
pub(crate) fn check(
    row: &ShelfRow<'_>,
    ledger: &Ledger,
    product: &Product,
) -> Result<(), StoreError> {
    match row {
        ShelfRow::Opening(opening) => check_opening(opening, ledger),
        ShelfRow::Count(count) => check_count(count, ledger, product),
        ShelfRow::Pour(pour) if pour.ratio.is_none() => {
            check_of_mix(pour.container.as_ref(), Some(pour.amount), ledger, product)
        }
        ShelfRow::Discard(discard) => {
            check_of_mix(discard.container.as_ref(), discard.amount, ledger, product)
        }
        _ => Ok(()),
    }
}

/// What is taken out of a mix holds something of what it was made of, or is nothing.
fn check_of_mix(
    container: Option<&ContainerId>,
    amount: Option<Amount>,
    ledger: &Ledger,
    product: &Product,
) -> Result<(), StoreError> {
    let own = container.and_then(|id| ledger.container(id)).and_then(|own| own.mix);
    let (Some(ratio), Some(amount)) = (own, amount) else { return Ok(()) };
    match product.quantity_in_mix(amount, ratio) {
        Ok(_) => Ok(()),
        Err(wrong) => refuse(format!("quantity: {wrong}")),
    }
}

/// What is gone is not full again for somebody's opening it.
fn check_opening(opening: &Opening, ledger: &Ledger) -> Result<(), StoreError> {
    let Some(container) = opening.container.as_ref().and_then(|id| ledger.container(id)) else {
        return Ok(());
    };
    let id = &container.id;
    let right = "container: a sealed one, or none for the next";
    let count = "a count tells what is in it";
    if container.mix.is_some() {
        return refuse(format!("{right}: {id} is a mix, open from the start"));
    }
    match container.state() {
        ContainerState::Discarded => {
            refuse(format!("{right}: {id} was thrown away or sent back; {count}"))
        }
        ContainerState::Empty => {
            refuse(format!("{right}: {id} is used up, as the books have it; {count}"))
        }
        _ => Ok(()),
    }
}

fn check_count(count: &Count, ledger: &Ledger, product: &Product) -> Result<(), StoreError> {
    let own = count.container.as_ref().and_then(|id| ledger.container(id));
    let live: Vec<&Container> = live(ledger, product).collect();
    capful_domain::check_count(count, product, own, &live).map_err(StoreError::Refused)?;
    let seen = count.amount.and_then(|amount| product.quantity(amount).ok());
    let held: Quantity = live.iter().map(|container| container.left).sum();
    let most = held + product.size().times(MOST_FOUND.into());
    if seen.is_some_and(|seen| seen > most) {
        return refuse(format!(
            "quantity: at most {MOST_FOUND} containers more than the books hold"
        ));
    }
    Ok(())
}

fn live<'l>(ledger: &'l Ledger, product: &'l Product) -> impl Iterator<Item = &'l Container> {
    let own = ledger.containers().iter().filter(|container| container.product == product.id);
    own.filter(|container| container.is_live())
}

fn refuse(text: String) -> Result<(), StoreError> {
    Err(StoreError::Refused(text))
}
