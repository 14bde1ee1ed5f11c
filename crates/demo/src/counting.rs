//! How somebody counts or weighs a product, a little wrong.

use capful_domain::{Amount, Product, Quantity, Unit};
use rand::RngExt;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::chance::{Rng, normal};
use crate::recording::{Seen, amount};
use crate::shelf::{Container, Shelf};

/// Spread of a look at the bottles, and of the scale.
const EYE: f64 = 0.03;
const SCALE: f64 = 0.01;

/// What is written of the product at `place`.
pub fn look(product: &Product, shelf: &Shelf, place: usize, rng: &mut Rng) -> Seen {
    let containers = shelf.of(place);
    let open: Vec<&Container> = containers.iter().filter(|c| c.open && c.ratio.is_neat()).collect();
    let sealed: Vec<&Container> = containers.iter().filter(|c| !c.open).collect();
    let style = rng.random::<f64>();
    if let [one] = open[..]
        && style < 0.2
        && let Some(gross_g) = weigh(product, one, rng)
    {
        // On the scale goes one bottle; where no mix stands about, the rest is sealed.
        let all = open.len() + sealed.len() == containers.len() && style < 0.1;
        return Seen {
            gross_g: Some(gross_g),
            container: Some(one.id.clone()).filter(|_| !all),
            sealed: u32::try_from(sealed.len()).ok().filter(|_| all),
            sd_thousandths: Some(10),
            ..Seen::default()
        };
    }
    let total = shelf.total(place);
    if product.container_size.number > Decimal::ONE && style < 0.45 {
        let full: Quantity = sealed.iter().map(|c| c.left).sum();
        return Seen {
            amount: Some(estimate(product, total - full, rng)),
            sealed: u32::try_from(sealed.len()).ok(),
            ..Seen::default()
        };
    }
    let hasty = style > 0.9;
    Seen {
        amount: Some(estimate(product, total, rng)),
        sd_thousandths: Some(50).filter(|_| hasty),
        ..Seen::default()
    }
}

fn weigh(product: &Product, container: &Container, rng: &mut Rng) -> Option<Decimal> {
    let (density, tare) = (product.density_g_ml?, product.tare_g?);
    let net = container.left.in_unit(Unit::Ml) * density;
    let wrong = Decimal::try_from(normal(rng, 1.0, SCALE)).ok()?;
    let digits = if product.container_size.number < Decimal::ONE_HUNDRED { 1 } else { 0 };
    Some((net * wrong + tare).round_dp(digits).normalize())
}

fn estimate(product: &Product, quantity: Quantity, rng: &mut Rng) -> Amount {
    let exact = product.unit == Unit::Each;
    let wrong = if exact { 1.0 } else { normal(rng, 1.0, EYE) };
    let units = quantity.ledger_units() as f64 * wrong;
    let step = match product.unit {
        Unit::M => 1_000_000.0,
        Unit::Each => 1000.0,
        _ if product.container_size.number < Decimal::ONE_HUNDRED => 1000.0,
        _ if quantity < Quantity::from_ledger_units(1_000_000) => 5000.0,
        _ => 10_000.0,
    };
    let rounded = (units / step).round().max(0.0) * step;
    amount(product, Quantity::from_ledger_units(rounded.to_i64().unwrap_or(0)))
}
