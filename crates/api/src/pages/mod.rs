//! The pages: what a shop does in a day, from a phone and from a laptop.
//!
//! Each page has a file here and a template of its name in `templates/`. A page is made of the same
//! plan and the same books as the answers to programs; a form asks for the same changes, with the
//! body that the same operation takes over HTTP, so that what is wrong is told in the same words,
//! at the field that it is about.
//!
//! * [`visitor`] is who looks, [`browser`] what they look with, [`confirm`] that it is still they;
//!   [`form`] is what they send, [`shown`] what they get.
//! * [`stretch`] is as much of a long list as one page shows.
//! * [`frame`] is what stands around every page; [`say`] is all that the pages say.
//! * [`amounts`] and [`drawing`] show quantities, chances and time.
//!
//! A form that was done leads to a page with `?done=DEED`, which says what was done and offers to
//! undo it. All works without the script; with it, what is sent where there is no signal is kept on
//! the phone and sent later, once.

mod amounts;
mod assets;
mod backtest;
mod browser;
mod confirm;
mod drawing;
mod finish;
mod form;
mod frame;
pub(crate) mod fuzzing;
mod jobs;
mod names;
mod orders;
mod own_path;
mod passwords;
mod pictures;
mod say;
mod setup;
mod shelf;
mod shown;
mod sign_in;
mod stretch;
mod today;
mod trouble;
mod undo;
mod visitor;
mod welcome;

pub(crate) use passwords::Passwords;
pub use passwords::hash as password_hash;
pub(crate) use shown::IsPage;
pub(crate) use trouble::{asks, trouble};
pub(crate) use visitor::visitor;
pub(crate) use welcome::FirstRunCode;

use axum::Router;
use axum::middleware::from_fn_with_state;

use crate::api::{Api, Settings};
use crate::route_table::{Route, RouteTable, get, post};

/// Every page.
pub(crate) fn router(api: &Api) -> Router<Api> {
    let guard = from_fn_with_state(api.clone(), visitor::signed_in);
    let guarded = guarded(&api.settings).around(|router| router.route_layer(guard));
    let of_our_pages = form::from_our_pages(&api.settings);
    guarded.merge(open()).into_router().route_layer(of_our_pages)
}

/// The address and the methods of every page.
pub(crate) fn routes() -> Vec<Route> {
    guarded(&Settings::default()).merge(open()).into_routes()
}

/// What answers people who are signed in.
fn guarded(settings: &Settings) -> RouteTable {
    RouteTable::new()
        .route("/", get(today::get))
        .route("/jobs/{id}/finish", get(finish::get).post(finish::post))
        .route("/undo/{deed}", post(undo::post))
        .route("/sign-out", post(sign_in::sign_out))
        .route("/session", get(welcome::session))
        .route("/backtest", get(backtest::get).post(backtest::post))
        .route("/backtest.svg", get(pictures::backtest))
        .route("/shelf/{product}/demand.svg", get(pictures::demand))
        .route("/usage.svg", get(pictures::usage))
        .merge(shelf::routes())
        .merge(orders::routes())
        .merge(jobs::routes())
        .merge(setup::routes(settings))
}

/// What answers anybody.
fn open() -> RouteTable {
    RouteTable::new()
        .route("/sign-in", get(sign_in::get).post(sign_in::post))
        .route("/welcome", get(welcome::get).post(welcome::post))
        .route("/offline", get(sign_in::offline))
        .route("/assets/{name}", get(assets::asset))
        .route("/worker.js", get(assets::worker))
        .route("/capful.webmanifest", get(assets::manifest))
}
