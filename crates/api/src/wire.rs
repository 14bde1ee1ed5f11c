//! What several answers share: quantities, money and numbers as they are written.

use capful_domain::{Currency, Id, Money, Product, Quantity};
use capful_forecast::plan::AmountIn;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// A quantity in the product's own unit, to three decimals.
pub(crate) fn amount(product: &Product, quantity: Quantity) -> AmountIn {
    let number = quantity.in_unit(product.unit).round_dp(3);
    AmountIn { amount: self::number(number), unit: product.unit.symbol() }
}

/// Money as a decimal: `46.00`.
pub(crate) fn money(money: Money, currency: Currency) -> String {
    money.to_decimal(currency).to_string()
}

/// A number of a row.
pub(crate) fn number(number: Decimal) -> f64 {
    number.to_f64().unwrap_or_default()
}

/// Ids as they are written.
pub(crate) fn texts(ids: &[Id]) -> Vec<String> {
    ids.iter().map(Id::to_string).collect()
}

/// An id that may be missing.
pub(crate) fn text(id: Option<&Id>) -> Option<String> {
    id.map(Id::to_string)
}
