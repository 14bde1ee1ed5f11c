//! Every resource, in three groups by the token that it needs.
//!
//! A new handler is added to its group with one line. The group asks for the token, so the handler
//! only takes `Caller`, and describes what it answers to a request that is wrong.

mod check;
mod containers;
pub(crate) mod costs;
mod deeds;
pub(crate) mod folder;
mod going_off;
mod health;
mod job_types;
mod jobs;
mod movements;
mod offers;
mod orders;
mod plan;
mod products;
mod readiness;
mod shop;
mod suppliers;
mod trace;
mod usage;
mod weekly_order;
pub(crate) mod write;

use std::collections::HashMap;
use std::sync::Arc;

use axum::extract::DefaultBodyLimit;
use axum::http::{Method, StatusCode};
use axum::middleware::from_fn_with_state;
use capful_store::Scope;
use utoipa::openapi::path::{Operation, Parameter, ParameterIn, PathItem};
use utoipa::openapi::{OpenApi, Ref, RefOr, SecurityRequirement};
use utoipa_axum::router::{OpenApiRouter, UtoipaMethodRouterExt};
use utoipa_axum::routes;

use crate::api::{Api, Settings};
use crate::{auth, once, problem};

/// What looks: any token will do.
fn reading(_: &Settings) -> OpenApiRouter<Api> {
    OpenApiRouter::default()
        .routes(routes!(plan::get_plan))
        .routes(routes!(weekly_order::get_weekly_order))
        .routes(routes!(readiness::get_readiness))
        .routes(routes!(going_off::get_going_off))
        .routes(routes!(usage::get_usage))
        .routes(routes!(jobs::list_jobs))
        .routes(routes!(jobs::get_job))
        .routes(routes!(products::get_product))
        .routes(routes!(containers::list_containers))
        .routes(routes!(movements::list_movements))
        .routes(routes!(check::get_check))
        .routes(routes!(deeds::list_deeds))
        .routes(routes!(orders::list_orders))
        .routes(routes!(costs::costs))
        .routes(routes!(costs::job_cost))
        .routes(routes!(costs::job_type_costs))
        .routes(routes!(costs::waste))
        .routes(routes!(trace::trace_lot))
        .routes(routes!(trace::trace_job))
        .routes(routes!(shop::get_shop))
        .routes(routes!(products::list_products))
        .routes(routes!(suppliers::list_suppliers))
        .routes(routes!(offers::list_offers))
        .routes(routes!(job_types::list_job_types))
        .routes(routes!(folder::get_folder))
        .routes(routes!(health::metrics))
}

/// What answers anybody: whether the service is well.
fn open() -> OpenApiRouter<Api> {
    OpenApiRouter::default().routes(routes!(health::alive)).routes(routes!(health::ready))
}

/// What writes down what happens on the shelf and in the calendar: a token of scope `shelf`.
fn writing(_: &Settings) -> OpenApiRouter<Api> {
    write::happening()
}

/// What sets up: a token of scope `setup`.
fn setting_up(settings: &Settings) -> OpenApiRouter<Api> {
    let large = DefaultBodyLimit::max(settings.import_limit);
    write::setting_up().routes(routes!(folder::post_folder).layer(large))
}

/// All of them, described but not guarded.
pub(crate) fn groups() -> OpenApiRouter<Api> {
    let groups = GROUPS.map(|(group, scope)| tell(group(&Settings::default()), scope));
    groups.into_iter().fold(open(), OpenApiRouter::merge)
}

/// What answers anybody, and the three groups, each behind its token.
pub(crate) fn described(api: &Api) -> OpenApiRouter<Api> {
    let taken = Arc::new(Taken::of(groups().get_openapi()));
    let groups = GROUPS.map(|(group, scope)| {
        let group = tell(group(&api.settings), scope);
        let is_empty = group.get_openapi().paths.paths.is_empty();
        let kept = from_fn_with_state(api.clone(), once::or_kept);
        let guard = from_fn_with_state((api.clone(), scope, Arc::clone(&taken)), auth::needs);
        // The guard comes last, and so is asked first.
        if is_empty { group } else { group.route_layer(kept).route_layer(guard) }
    });
    groups.into_iter().fold(open(), OpenApiRouter::merge)
}

type Group = fn(&Settings) -> OpenApiRouter<Api>;

const GROUPS: [(Group, Scope); 3] =
    [(reading, Scope::Read), (writing, Scope::Shelf), (setting_up, Scope::Setup)];

/// Describes what every operation of a group answers beside its own answers.
fn tell(mut group: OpenApiRouter<Api>, scope: Scope) -> OpenApiRouter<Api> {
    for (path, item) in &mut group.get_openapi_mut().paths.paths {
        let has_name = path.contains('{');
        for (method, operation) in operations(item) {
            let security = SecurityRequirement::new("token", [scope.word()]);
            operation.security = Some(vec![security]);
            for status in wrong_statuses(&method, operation, scope, has_name) {
                let told = RefOr::Ref(Ref::from_response_name(problem::response_name(status)));
                operation.responses.responses.insert(status.as_str().to_owned(), told);
            }
        }
    }
    group
}

/// What an operation answers where something is wrong, by what it takes.
fn wrong_statuses(
    method: &Method,
    operation: &Operation,
    scope: Scope,
    has_name: bool,
) -> Vec<StatusCode> {
    let takes = |place: ParameterIn, name: Option<&str>| {
        let mut all = operation.parameters.iter().flatten();
        let is_it = |p: &Parameter| p.parameter_in == place && name.is_none_or(|n| p.name == n);
        all.any(|parameter| matches!(parameter, RefOr::T(own) if is_it(own)))
    };
    let changes = *method != Method::GET;
    let is_edit = takes(ParameterIn::Header, Some("If-Match"));
    let sets_up = *method == Method::PUT || *method == Method::PATCH;
    let all = [
        (takes(ParameterIn::Query, None) || changes, StatusCode::BAD_REQUEST),
        (true, StatusCode::UNAUTHORIZED),
        (scope > Scope::Read, StatusCode::FORBIDDEN),
        (has_name, StatusCode::NOT_FOUND),
        (changes, StatusCode::CONFLICT),
        (is_edit, StatusCode::PRECONDITION_FAILED),
        (changes, StatusCode::PAYLOAD_TOO_LARGE),
        (changes, StatusCode::UNSUPPORTED_MEDIA_TYPE),
        (changes, StatusCode::UNPROCESSABLE_ENTITY),
        (sets_up, StatusCode::PRECONDITION_REQUIRED),
        (true, StatusCode::INTERNAL_SERVER_ERROR),
        (true, StatusCode::SERVICE_UNAVAILABLE),
    ];
    all.into_iter().filter(|(is_told, _)| *is_told).map(|(_, status)| status).collect()
}

/// The methods of every described address.
pub(crate) fn methods() -> HashMap<String, Vec<Method>> {
    Taken::of(groups().get_openapi()).0
}

/// The methods that each address takes.
pub(crate) struct Taken(HashMap<String, Vec<Method>>);

impl Taken {
    fn of(document: &OpenApi) -> Self {
        let methods = |item: &PathItem| {
            let all = [
                (item.get.is_some(), Method::GET),
                (item.get.is_some(), Method::HEAD),
                (item.put.is_some(), Method::PUT),
                (item.post.is_some(), Method::POST),
                (item.patch.is_some(), Method::PATCH),
                (item.delete.is_some(), Method::DELETE),
            ];
            all.into_iter().filter(|(is_taken, _)| *is_taken).map(|(_, method)| method).collect()
        };
        let paths = document.paths.paths.iter();
        Self(paths.map(|(path, item)| (path.clone(), methods(item))).collect())
    }

    /// Whether an address, as it is described, takes a method.
    pub(crate) fn has(&self, path: &str, method: &Method) -> bool {
        self.0.get(path).is_some_and(|methods| methods.contains(method))
    }
}

fn operations(item: &mut PathItem) -> impl Iterator<Item = (Method, &mut Operation)> {
    let all = [
        (Method::GET, &mut item.get),
        (Method::PUT, &mut item.put),
        (Method::POST, &mut item.post),
        (Method::PATCH, &mut item.patch),
        (Method::DELETE, &mut item.delete),
    ];
    all.into_iter().filter_map(|(method, own)| Some((method, own.as_mut()?)))
}
