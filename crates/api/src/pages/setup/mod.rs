//! Setting up: shop, suppliers, products, job types, the folder; people and who did what.
//!
//! A page that edits a row is made of [`entry`]s: each a field with its label, a sentence on what
//! it does, what is wrong with it, and what somebody else has saved there meanwhile.

mod archive;
mod deeds;
mod entry;
mod folder;
mod job_type;
mod lists;
mod me;
mod more;
mod overview;
mod people;
mod product;
mod saving;
mod shop;
mod start;
mod starting_set;
mod supplier;
mod tokens;
mod upload;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};

use crate::api::Api;
use crate::pages::say::words;
use crate::problem::{Kind, Problem};

/// The pages of this part.
pub(crate) fn routes(api: &Api) -> Router<Api> {
    let large = DefaultBodyLimit::max(api.settings.import_limit);
    Router::new()
        .route("/more", get(more::get))
        .route("/setup", get(overview::get))
        .route("/setup/start", get(start::get).post(start::post))
        .route("/setup/shop", get(shop::get).post(shop::post))
        .route("/setup/suppliers", get(lists::suppliers))
        .route("/setup/suppliers/new", get(supplier::get_new).post(supplier::post_new))
        .route("/setup/suppliers/{id}", get(supplier::get).post(supplier::post))
        .route("/setup/suppliers/{id}/offers", post(supplier::post_offer))
        .route("/setup/products", get(lists::products))
        .route("/setup/products/new", get(product::get_new).post(product::post_new))
        .route("/setup/products/{id}", get(product::get).post(product::post))
        .route("/setup/products/{id}/ratios", post(product::post_ratio))
        .route("/setup/job-types", get(lists::job_types))
        .route("/setup/job-types/new", get(job_type::get_new).post(job_type::post_new))
        .route("/setup/job-types/{id}", get(job_type::get).post(job_type::post))
        .route("/setup/folder", get(folder::get))
        .route("/setup/folder/shop.zip", get(folder::export))
        .route("/setup/folder", post(folder::import).layer(large))
        .route("/people", get(people::get).post(people::add))
        .route("/people/me", get(me::get).post(me::post))
        .route("/people/tokens", get(tokens::get).post(tokens::make))
        .route("/people/tokens/{id}/revoke", post(tokens::revoke))
        .route("/people/{id}", get(people::get_one).post(people::edit))
        .route("/people/{id}/password", post(people::set_password))
        .route("/people/{id}/end", post(people::end))
        .route("/deeds", get(deeds::get))
}

/// What was new, where another row has that id: told at the field.
fn taken(wrong: Problem) -> Problem {
    match wrong.kind {
        Kind::Stale => Problem::field("id", words().say("setup-id-taken").to_string()),
        _ => wrong,
    }
}
