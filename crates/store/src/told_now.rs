//! What is told now is held against what is known: a slip is sent back to who made it, who is still
//! there to be asked. A history is taken as it was written.

use capful_domain::facts::{Count, Opening};
use capful_domain::{Container, ContainerState, Ledger, Product, Quantity};
use rust_decimal::Decimal;

use crate::error::StoreError;
use crate::shelf::ShelfRow;

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
        _ => Ok(()),
    }
}

/// What is gone is not full again for somebody's opening it.
fn check_opening(opening: &Opening, ledger: &Ledger) -> Result<(), StoreError> {
    let Some(container) = opening.container.as_ref().and_then(|id| ledger.container(id)) else {
        return Ok(());
    };
    let id = &container.id;
    let right = "a sealed one, or none for the next; what is in a container is told by a count";
    if container.mix.is_some() {
        return refuse(format!("container: {id} is a mix, open from the start; {right}"));
    }
    match container.state() {
        ContainerState::Discarded => {
            refuse(format!("container: {id} was thrown away or sent back; {right}"))
        }
        ContainerState::Empty => {
            refuse(format!("container: {id} is used up, as the books have it; {right}"))
        }
        _ => Ok(()),
    }
}

fn check_count(count: &Count, ledger: &Ledger, product: &Product) -> Result<(), StoreError> {
    let own = count.container.as_ref().and_then(|id| ledger.container(id));
    if let Some(gross_g) = count.gross_g {
        check_weight(gross_g, own, ledger, product)?;
    }
    if own.is_some() && count.sealed.is_some() {
        return refuse("sealed: nothing, where one container is counted".to_owned());
    }
    let Some(seen) = count.amount.and_then(|amount| product.quantity(amount).ok()) else {
        return Ok(());
    };
    let said = |size: Quantity| format!("{} {}", size.in_unit(product.unit), product.unit);
    match own {
        // Some are filled to the brim.
        Some(own) if own.mix.is_none() && seen.times(10) > own.size.times(11) => {
            refuse(format!("quantity: at most {}, what {} holds", said(own.size), own.id))
        }
        Some(_) => Ok(()),
        None => {
            let held: Quantity = live(ledger, product).map(|container| container.left).sum();
            let most = held + product.size().times(MOST_FOUND.into());
            if seen <= most {
                return Ok(());
            }
            refuse(format!("quantity: at most {MOST_FOUND} containers more than the books hold"))
        }
    }
}

fn check_weight(
    gross_g: Decimal,
    own: Option<&Container>,
    ledger: &Ledger,
    product: &Product,
) -> Result<(), StoreError> {
    let tare = product.tare_g.unwrap_or_default();
    if gross_g < tare {
        let empty = "what the empty container weighs";
        return refuse(format!("gross_g: {tare} g or more: {tare} g is {empty}"));
    }
    let number = live(ledger, product).count();
    if own.is_none() && number > 1 {
        let which = "which of them was weighed";
        return refuse(format!("container: {which}; {number} of {} are there", product.id));
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
