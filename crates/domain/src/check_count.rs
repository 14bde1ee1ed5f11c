//! Whether a count can be true, before it is written down.
//!
//! A shop folder's counts are history and are read as they stand; a count that somebody tells now
//! can still be put right by the one who tells it.

use rust_decimal::Decimal;

use crate::catalog::Product;
use crate::container::{Container, ContainerState};
use crate::facts::Count;
use crate::quantity::{Amount, Quantity, Unit};

/// How far above its size a container may be filled to the brim, and scales be off: one part in so
/// many.
pub(crate) const BRIM: i64 = 10;

/// Whether `count` can be true of `product`, whose containers with something in them are `live`
/// (all of them, open or sealed) and of which `named` is the one that the count names, where the
/// books know it.
///
/// # Errors
/// A sentence that says what is wrong and what would be right.
pub fn check_count(
    count: &Count,
    product: &Product,
    named: Option<&Container>,
    live: &[&Container],
) -> Result<(), String> {
    if count.amount.is_none() && count.gross_g.is_none() && count.sealed.is_none() {
        return Err("say what was seen: a quantity, a weight or the sealed containers".to_owned());
    }
    if let Some(amount) = count.amount {
        let known = product.quantity(amount).map_err(|wrong| format!("expected {wrong}"))?;
        if known < Quantity::ZERO {
            return Err("nothing can be less than empty: 0 or more".to_owned());
        }
    }
    if let Some(gross) = count.gross_g {
        check_weight(count, product, live, gross)?;
    }
    if count.container.is_some() { check_named(count, product, named) } else { Ok(()) }
}

fn check_weight(
    count: &Count,
    product: &Product,
    live: &[&Container],
    gross: Decimal,
) -> Result<(), String> {
    product.quantity_of_gross(gross, 1).map_err(|wrong| format!("cannot be weighed: {wrong}"))?;
    let is_open = |c: &&&Container| c.state() == ContainerState::Open;
    let (on_scale, are) = match count.sealed {
        Some(_) => (live.iter().filter(is_open).count(), "of it are open"),
        None => (live.len(), "of it are on the shelf"),
    };
    if count.container.is_none() && on_scale > 1 {
        return Err(format!("name the container that was weighed: {on_scale} {are}"));
    }
    let tare = product.tare_g.unwrap_or_default();
    if gross < tare {
        return Err(format!("less than the empty container weighs ({} g)", tare.normalize()));
    }
    Ok(())
}

fn check_named(count: &Count, product: &Product, named: Option<&Container>) -> Result<(), String> {
    if count.sealed.is_some_and(|sealed| sealed > 1) {
        return Err("one container is named: `sealed` is 0 or 1".to_owned());
    }
    let seen = match (count.amount, count.gross_g) {
        (Some(amount), _) => product.quantity(amount).ok(),
        (None, Some(gross)) => product.quantity_of_gross(gross, 1).ok(),
        (None, None) => None,
    };
    let mix = named.and_then(|container| container.mix);
    let seen = seen.map(|seen| mix.map_or(seen, |ratio| ratio.product_in(seen)));
    let size = named.map_or(product.size(), |container| container.size);
    if seen.is_none_or(|seen| seen <= size + size.share(1, BRIM)) {
        return Ok(());
    }
    match mix {
        Some(_) => Err("more than was mixed in it".to_owned()),
        None => Err(format!("a container of it holds {} at most", written(product, size))),
    }
}

/// A quantity in the unit that the product's own size is written in.
fn written(product: &Product, quantity: Quantity) -> Amount {
    let unit: Unit = product.container_size.unit;
    Amount { number: quantity.in_unit(unit), unit }
}
