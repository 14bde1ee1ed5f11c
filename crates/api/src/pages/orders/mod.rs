//! The weekly order and orders: placed, printed, received. Going off.
//!
//! [`weekly`] is the plan's order as a form: [`chosen`] is what of it was changed, [`terms`] what
//! that comes to by the supplier's terms, [`line`] a line in words. [`list`] is every order,
//! [`one`] a single one, [`receive`] what came of it. [`going_off`] is what dies when.

mod chosen;
mod going_off;
mod line;
mod list;
mod one;
mod receive;
mod terms;
mod weekly;

use crate::route_table::{RouteTable, get, post};

/// The pages of this part.
pub(crate) fn routes() -> RouteTable {
    RouteTable::new()
        .route("/order", get(weekly::get).post(weekly::post))
        .route("/orders", get(list::get))
        .route("/orders/{id}", get(one::get))
        .route("/orders/{id}/print", get(one::print))
        .route("/orders/{id}/receive", post(receive::post))
        .route("/orders/{id}/cancel", post(one::cancel))
        .route("/orders/{id}/end", post(one::end))
        .route("/going-off", get(going_off::get).post(going_off::post))
}
