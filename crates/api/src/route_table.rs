//! A router that can be asked what it answers: each route's path and methods, from the same lines
//! that the router is made of.

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::handler::Handler;
use axum::http::Method;
use axum::routing::{self, MethodRouter};

use crate::api::Api;

/// One method of one address of the service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Route {
    /// The method; `HEAD` goes with each `GET` and is not listed.
    pub method: Method,
    /// The address, its parts in braces being names: `/jobs/{id}`.
    pub path: String,
}

/// Routes, and the router that is made of them.
#[derive(Debug, Default)]
pub(crate) struct RouteTable {
    router: Router<Api>,
    routes: Vec<Route>,
}

impl RouteTable {
    /// No routes.
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// With one more address.
    pub(crate) fn route(mut self, path: &'static str, methods: Methods) -> Self {
        let new = methods.methods.into_iter();
        self.routes.extend(new.map(|method| Route { method, path: path.to_owned() }));
        Self { router: self.router.route(path, methods.router), ..self }
    }

    /// With the routes of another table.
    pub(crate) fn merge(mut self, other: Self) -> Self {
        self.routes.extend(other.routes);
        Self { router: self.router.merge(other.router), ..self }
    }

    /// The same routes, their router changed: something is put around them.
    pub(crate) fn around(self, change: impl FnOnce(Router<Api>) -> Router<Api>) -> Self {
        Self { router: change(self.router), ..self }
    }

    /// The router.
    pub(crate) fn into_router(self) -> Router<Api> {
        self.router
    }

    /// What it answers.
    pub(crate) fn into_routes(self) -> Vec<Route> {
        self.routes
    }
}

/// The methods that one address takes.
#[derive(Debug)]
pub(crate) struct Methods {
    router: MethodRouter<Api>,
    methods: Vec<Method>,
}

/// An address that is looked at.
pub(crate) fn get<H: Handler<T, Api>, T: 'static>(handler: H) -> Methods {
    Methods { router: routing::get(handler), methods: vec![Method::GET] }
}

/// An address that something is sent to.
pub(crate) fn post<H: Handler<T, Api>, T: 'static>(handler: H) -> Methods {
    Methods { router: routing::post(handler), methods: vec![Method::POST] }
}

impl Methods {
    /// Something may be sent to it too.
    pub(crate) fn post<H: Handler<T, Api>, T: 'static>(mut self, handler: H) -> Self {
        self.methods.push(Method::POST);
        Self { router: self.router.post(handler), ..self }
    }

    /// With another limit of the body.
    pub(crate) fn layer(self, limit: DefaultBodyLimit) -> Self {
        Self { router: self.router.layer(limit), ..self }
    }
}
