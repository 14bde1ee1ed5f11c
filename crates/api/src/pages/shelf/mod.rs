//! The shelf: products as their containers, what is done to them, their labels.
//!
//! * [`list`] is the shelf whole, [`product`] and [`container`] one of them, [`count`]
//!   stock-taking, [`labels`] what is stuck on.
//! * [`acts`] is what can be done to a product or a container, from whichever page.
//! * [`books`] and [`bottle`] are what they read and how they show it; [`cautions`] what can hurt.

mod acts;
mod books;
mod bottle;
mod cautions;
mod container;
mod count;
mod labels;
mod list;
mod outlook;
mod product;
mod qr;
mod recipe;

pub(super) use books::{Books, morning};

pub(super) use cautions::corrodes;

use crate::route_table::{RouteTable, get};

/// The pages of this part.
pub(crate) fn routes() -> RouteTable {
    RouteTable::new()
        .route("/shelf", get(list::get))
        .route("/shelf/{product}", get(product::get).post(product::post))
        .route("/containers/{*id}", get(container::get).post(container::post))
        .route("/count", get(count::get).post(count::post))
        .route("/labels", get(labels::get))
}
