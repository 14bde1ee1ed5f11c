//! What several answers share: quantities and money as they are written.

use capful_domain::{Currency, Money, Product, Quantity};
use capful_forecast::plan::AmountIn;
use rust_decimal::prelude::ToPrimitive;

/// A quantity in the product's own unit, to three decimals.
pub(crate) fn amount(product: &Product, quantity: Quantity) -> AmountIn {
    let number = quantity.in_unit(product.unit).round_dp(3);
    AmountIn { amount: number.to_f64().unwrap_or_default(), unit: product.unit.symbol() }
}

/// Money as a decimal: `46.00`.
pub(crate) fn money(money: Money, currency: Currency) -> String {
    money.to_decimal(currency).to_string()
}
