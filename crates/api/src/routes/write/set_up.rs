//! Setting up: what the shop is, buys, sells and expects, each row as it is from now on.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::Id;
use capful_store::{Change, Effects};
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::known::known;
use crate::once::{self, Once};
use crate::path::{Named, name_of};
use crate::problem::{Kind, Problem};
use crate::schema;
use crate::written::{
    JobTypeBody, OfferBody, OfferName, ProductBody, RatioBody, Reader, ShopBody, SupplierBody,
    refusal,
};

/// A row that was set up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct SetUpAnswer {
    /// What it is known by: its id; of a ratio `PRODUCT, LABEL`, of an offer
    /// `SUPPLIER, PRODUCT, PACK`.
    pub id: String,
    /// What the next edit names as `If-Match`, in quotes.
    pub version: i64,
}

/// Sets one row up: reads it, and writes it where it is of the version that the caller has read.
async fn put<T>(
    api: &Api,
    caller: &Caller,
    once: &Once<T>,
    read: impl FnOnce(&T, &mut Reader<'_>) -> Option<Change>,
) -> Result<Response, Problem> {
    once.must_name_version()?;
    let known = known(api, caller).await?;
    let asked = once.asked(caller, api.now());
    let mut reader = Reader::new(api, &known, asked.now);
    let change = read(&once.body, &mut reader);
    let change = reader.end(change)?;
    let answer = |outcome: &Effects| {
        let status = if outcome.is_new { StatusCode::CREATED } else { StatusCode::OK };
        let id = outcome.written.first().cloned().unwrap_or_default();
        once::answer(status, &SetUpAnswer { id, version: outcome.version.unwrap_or_default() })
    };
    let done = api.store.change(&asked, &change, answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, None))?))
}

/// The shop's settings
#[utoipa::path(
    put,
    path = "/api/v1/shop",
    tag = "setup",
    params(once::PutHeaders),
    request_body = ShopBody,
    responses((status = 200, description = "Its version", body = SetUpAnswer))
)]
pub(crate) async fn put_shop(
    State(api): State<Api>,
    caller: Caller,
    once: Once<ShopBody>,
) -> Result<Response, Problem> {
    let read = |body: &ShopBody, reader: &mut Reader<'_>| {
        body.read(reader).map(|shop| Change::Shop(Box::new(shop)))
    };
    put(&api, &caller, &once, read).await
}

/// A product
#[utoipa::path(
    put,
    path = "/api/v1/products/{id}",
    tag = "setup",
    params(("id" = schema::Id, Path, description = "The product's id"), once::PutHeaders),
    request_body = ProductBody,
    responses(
        (status = 200, description = "It was changed", body = SetUpAnswer),
        (status = 201, description = "It is new", body = SetUpAnswer)
    )
)]
pub(crate) async fn put_product(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<ProductBody>,
) -> Result<Response, Problem> {
    let read = |body: &ProductBody, reader: &mut Reader<'_>| {
        body.read(reader, &id).map(|product| Change::Product(Box::new(product)))
    };
    put(&api, &caller, &once, read).await
}

/// A ratio that a product is used at, under a name of the shop's
#[utoipa::path(
    put,
    path = "/api/v1/products/{id}/ratios/{label}",
    tag = "setup",
    params(
        ("id" = schema::Id, Path, description = "The product's id"),
        ("label" = schema::Line, Path, description = "What the shop calls it, such as `wheels`"),
        once::PutHeaders
    ),
    request_body = RatioBody,
    responses(
        (status = 200, description = "It was changed", body = SetUpAnswer),
        (status = 201, description = "It is new", body = SetUpAnswer)
    )
)]
pub(crate) async fn put_ratio(
    State(api): State<Api>,
    caller: Caller,
    Path((product, label)): Path<(String, String)>,
    once: Once<RatioBody>,
) -> Result<Response, Problem> {
    let no_id = |_| Problem::new(Kind::NotFound, format!("there is no product `{product}`"));
    let id = Id::parse(name_of(&product)).map_err(no_id)?;
    let read = |body: &RatioBody, reader: &mut Reader<'_>| {
        body.read(reader, &id, name_of(&label)).map(Change::Ratio)
    };
    put(&api, &caller, &once, read).await
}

/// A supplier
#[utoipa::path(
    put,
    path = "/api/v1/suppliers/{id}",
    tag = "setup",
    params(("id" = schema::Id, Path, description = "The supplier's id"), once::PutHeaders),
    request_body = SupplierBody,
    responses(
        (status = 200, description = "It was changed", body = SetUpAnswer),
        (status = 201, description = "It is new", body = SetUpAnswer)
    )
)]
pub(crate) async fn put_supplier(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<SupplierBody>,
) -> Result<Response, Problem> {
    let read =
        |body: &SupplierBody, reader: &mut Reader<'_>| body.read(reader, &id).map(Change::Supplier);
    put(&api, &caller, &once, read).await
}

/// An offer: one way to buy one product
#[utoipa::path(
    put,
    path = "/api/v1/offers/{supplier}/{product}/{pack}",
    tag = "setup",
    params(
        ("supplier" = schema::Id, Path, description = "Who sells"),
        ("product" = schema::Id, Path, description = "What"),
        ("pack" = schema::Pack, Path, description = "Containers in a pack"),
        once::PutHeaders
    ),
    request_body = OfferBody,
    responses(
        (status = 200, description = "It was changed", body = SetUpAnswer),
        (status = 201, description = "It is new", body = SetUpAnswer)
    )
)]
pub(crate) async fn put_offer(
    State(api): State<Api>,
    caller: Caller,
    name: OfferName,
    once: Once<OfferBody>,
) -> Result<Response, Problem> {
    let read =
        |body: &OfferBody, reader: &mut Reader<'_>| body.read(reader, &name).map(Change::Offer);
    put(&api, &caller, &once, read).await
}

/// A job type, and its usage sheet where one is given
#[utoipa::path(
    put,
    path = "/api/v1/job-types/{id}",
    tag = "setup",
    params(("id" = schema::Id, Path, description = "The job type's id"), once::PutHeaders),
    request_body = JobTypeBody,
    responses(
        (status = 200, description = "It was changed", body = SetUpAnswer),
        (status = 201, description = "It is new", body = SetUpAnswer)
    )
)]
pub(crate) async fn put_job_type(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<JobTypeBody>,
) -> Result<Response, Problem> {
    let read = |body: &JobTypeBody, reader: &mut Reader<'_>| {
        body.read(reader, &id).map(|(job_type, sheet)| match sheet {
            Some(sheet) => Change::Service(job_type, sheet),
            None => Change::JobType(job_type),
        })
    };
    put(&api, &caller, &once, read).await
}
