//! Pictures: what a page shows and anybody may keep or print, each at an address of its own.

use axum::extract::{RawQuery, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use base64::prelude::{BASE64_STANDARD, Engine as _};
use capful_domain::{Condition, VehicleSize, Word};
use capful_forecast::plan::{AmountIn, ProductOutlook};
use capful_pictures::Names;
use sha2::{Digest, Sha256};

use super::form::Fields;
use super::shelf::{Books, morning};
use super::visitor::{Owner, Visitor};
use crate::api::Api;
use crate::backtests::{self, Standing};
use crate::known::known;
use crate::path::NamedText;
use crate::problem::Problem;
use crate::{view, wire};

/// A picture as it is sent. Nothing in it is loaded or run, and no style is its own but the one
/// that its colours stand in.
fn picture(svg: String) -> Response {
    let style = svg.split_once("<style>").and_then(|(_, rest)| rest.split_once("</style>"));
    let digest = Sha256::digest(style.map_or("", |(style, _)| style));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; frame-ancestors 'none'",
        BASE64_STANDARD.encode(digest)
    );
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        (header::CONTENT_SECURITY_POLICY, policy.as_str()),
        (header::CACHE_CONTROL, "no-store"),
    ];
    (headers, svg).into_response()
}

/// `GET /shelf/{product}/demand.svg`: the plan of this morning, with what is on hand now.
pub(crate) async fn demand(
    State(api): State<Api>,
    visitor: Visitor,
    NamedText(id): NamedText,
) -> Result<Response, Problem> {
    let books = Books::now(&api, &visitor).await?;
    let plan = morning(&api, &visitor).await?;
    let product = books.product(&id)?;
    let own = plan.products.iter().find(|own| own.product == id);
    let own = own.ok_or_else(|| Problem::not_found("product", &id))?;
    let on_hand = wire::amount(product, books.usable(product));
    let on_hand = AmountIn { amount: on_hand.amount, unit: own.on_hand.unit };
    let outlook = ProductOutlook { on_hand, ..own.clone() };
    Ok(picture(capful_pictures::demand(&outlook, &Names::of(&books.snapshot.facts))))
}

/// `GET /usage.svg?type=&size=&condition=`: what jobs of one type take, beside its sheet.
pub(crate) async fn usage(
    State(api): State<Api>,
    visitor: Visitor,
    RawQuery(query): RawQuery,
) -> Result<Response, Problem> {
    let asked = Fields::read(query.unwrap_or_default().as_bytes());
    let size = asked.text("size").and_then(VehicleSize::from_word).unwrap_or(VehicleSize::Medium);
    let grade = asked.text("condition").and_then(|text| text.parse().ok());
    let condition = grade.and_then(Condition::new).unwrap_or(Condition::REFERENCE);
    let known = known(&api, &visitor.caller).await?;
    let rows = known.usage_at(&api, &visitor.caller, size, condition).await?;
    let id = asked.shown("type");
    let own = known.job_types.iter().find(|own| own.id.as_str() == id);
    let own = own.ok_or_else(|| Problem::not_found("job type", id))?;
    let facts = view::snapshot(&api, &visitor.caller, None).await?.facts;
    Ok(picture(capful_pictures::usage(&rows, own.id.as_str(), &Names::of(&facts))))
}

/// `GET /backtest.svg`: the backtest of today, where it is made.
pub(crate) async fn backtest(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    match backtests::today(&api, &visitor.caller).await? {
        Some(Standing::Made(told)) => Ok(picture(capful_pictures::backtest(&told))),
        _ => Err(Problem::not_found("backtest", "of today")),
    }
}
