//! Capful over HTTP: one shop's shelf, calendar and plan for programs.
//!
//! The shape of it, for whoever adds to it:
//!
//! * [`Api`] is what every handler gets as its state: the store, the clock, the settings. It is
//!   cheap to clone. [`router`] makes the whole service of it, [`serve`] answers on a listener
//!   until it is told to stop.
//! * `routes/` has a file for each resource: the handler, its parameters, its answer and its
//!   OpenAPI attribute, each handler in three steps: check, do, map. `routes/mod.rs` lists them in
//!   three groups, by the scope of the token that they need: `reading`,
//!   `writing` and `setting_up`. The group asks for the token and describes
//!   what it answers without one, so that no handler has to.
//! * A handler that reads takes `Caller` (whose shop) and `Params` (its query), and gives
//!   `Result<Json<Answer>, Problem>`. [`Problem`] is the only error there is.
//! * A handler that changes something takes `Caller` and `Once` (the body, the idempotency key
//!   and the version that the caller has read), hands `once.asked(&caller, api.now())` to
//!   `store.change` and gives `once::reply` of what that gives back.
//! * `around` is what happens around every request: its id, its line in the log, its counters,
//!   and problem details for every status from 400 on, whoever answered it.
//!
//! Not here: SQL, formulas, the clock (it comes with [`Api`]), the subscriber of the log.

mod api;
mod around;
mod auth;
mod backtests;
mod client_address;
mod etag;
#[doc(hidden)]
pub mod fuzzing;
mod known;
mod metrics;
mod once;
mod openapi;
mod page;
mod pages;
mod params;
mod path;
mod plans;
mod problem;
mod public_url;
mod route_table;
mod routes;
mod schema;
mod security_headers;
mod serve;
mod view;
mod wire;
mod written;

pub use api::{Api, Clock, Settings, route_list, router};
pub use client_address::Network;
pub use openapi::document;
pub use pages::password_hash;
pub use problem::{Kind, Problem, ProblemDetails};
pub use public_url::{NotAPublicUrl, PublicUrl};
pub use route_table::Route;
pub use serve::{ConnectionLimits, serve};
