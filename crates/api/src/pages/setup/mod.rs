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
mod sessions;
mod shop;
mod start;
mod starting_set;
mod supplier;
mod tokens;
mod upload;

pub(super) use archive::{pack, unpack};

use axum::extract::DefaultBodyLimit;
use axum::http::Uri;
use axum::response::Response;

use crate::api::{Api, Settings};
use crate::pages::say::words;
use crate::pages::visitor::Visitor;
use crate::problem::{Kind, Problem};
use crate::route_table::{RouteTable, get, post};

/// The pages of this part.
pub(crate) fn routes(settings: &Settings) -> RouteTable {
    let large = DefaultBodyLimit::max(settings.import_limit);
    RouteTable::new()
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
        .route("/people/me/sessions/{session}/end", post(sessions::end_own))
        .route("/people/sign-out", post(sessions::sign_all_out))
        .route("/people/{id}", get(people::get_one).post(people::edit))
        .route("/people/{id}/password", post(people::set_password))
        .route("/people/{id}/end", post(people::end))
        .route("/people/{id}/sign-out", post(sessions::sign_out))
        .route("/people/{id}/sessions/{session}/end", post(sessions::end_of))
        .route("/deeds", get(deeds::get))
}

/// One's own page with what is wrong.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn me_with(
    api: &Api,
    visitor: &Visitor,
    uri: &Uri,
    wrong: Problem,
) -> Result<Response, Problem> {
    me::shown(api, visitor, uri, Some(wrong)).await
}

/// What was new, where another row has that id: told at the field.
fn taken(wrong: Problem) -> Problem {
    match wrong.kind {
        Kind::Stale => Problem::field("id", words().say("setup-id-taken").to_string()),
        _ => wrong,
    }
}
