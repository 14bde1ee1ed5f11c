//! The description of the service (OpenAPI 3.1), and a page to read it on.

use axum::Router;
use axum::http::{HeaderValue, Method, header};
use axum::middleware::from_fn_with_state;
use axum::routing::get;
use tower_http::set_header::SetResponseHeaderLayer;
use utoipa::openapi::OpenApi;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::{PartialSchema, ToSchema};
use utoipa_swagger_ui::SwaggerUi;

use crate::api::Api;
use crate::auth::needs_reader;
use crate::problem::ProblemDetails;
use crate::route_table::Route;
use crate::{problem, routes, schema};

const ABOUT: &str = include_str!("about.md");
const ADDRESS: &str = "/api/v1/openapi.json";
/// Where the page is read, and where its parts lie.
const PAGE: &str = "/api/docs";
const PARTS: &str = "/api/docs/{*rest}";

/// The addresses of the description and its page.
pub(crate) fn routes() -> impl Iterator<Item = Route> {
    let address = |path: &str| Route { method: Method::GET, path: path.to_owned() };
    [ADDRESS, PAGE, "/api/docs/", PARTS].into_iter().map(address)
}

/// What the page of the description may load: it is a library's, which makes its styles as it runs.
const POLICY: HeaderValue = HeaderValue::from_static(
    "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
     object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
);

/// The description of the service.
#[must_use]
pub fn document() -> OpenApi {
    let mut document = routes::groups().into_openapi();
    complete(&mut document);
    document
}

/// Adds what no handler can say of itself.
pub(crate) fn complete(document: &mut OpenApi) {
    document.info.title = "Capful".to_owned();
    document.info.version = env!("CARGO_PKG_VERSION").to_owned();
    document.info.description = Some(ABOUT.to_owned());
    document.info.license = None;
    document.info.contact = None;
    let components = document.components.get_or_insert_default();
    let mut schemas = vec![(ProblemDetails::name().into_owned(), ProblemDetails::schema())];
    ProblemDetails::schemas(&mut schemas);
    components.schemas.extend(schemas);
    components.schemas.extend(schema::all());
    let problems = problem::responses().into_iter();
    components.responses.extend(problems.map(|(name, told)| (name, told.into())));
    let token = Http::builder().scheme(HttpAuthScheme::Bearer).build();
    components.add_security_scheme("token", SecurityScheme::Http(token));
}

/// The description and its page, for whoever has a token.
pub(crate) fn docs(api: &Api, mut document: OpenApi) -> Router<Api> {
    complete(&mut document);
    let text = document.to_json().unwrap_or_default();
    let json = [(header::CONTENT_TYPE, "application/json")];
    let page = SwaggerUi::new(PAGE).config(utoipa_swagger_ui::Config::from(ADDRESS));
    let policy = SetResponseHeaderLayer::overriding(header::CONTENT_SECURITY_POLICY, POLICY);
    Router::new()
        .route(ADDRESS, get(move || async move { (json, text) }))
        .merge(Router::<Api>::from(page).layer(policy))
        .route_layer(from_fn_with_state(api.clone(), needs_reader))
}
