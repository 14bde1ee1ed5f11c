//! What every handler works with, and the whole service made of it.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{HeaderValue, Method, StatusCode, header};
use axum::middleware::from_fn_with_state;
use capful_forecast::PlanSettings;
use capful_store::Store;
use chrono::{DateTime, SubsecRound, Utc};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::set_header::SetResponseHeaderLayer;
use tower_http::timeout::{RequestBodyDeadlineLayer, RequestBodyTimeoutLayer, TimeoutLayer};

use crate::backtests::Backtests;
use crate::client_address::Network;
use crate::known::Shops;
use crate::metrics::Metrics;
use crate::pages::{FirstRunCode, Passwords};
use crate::plans::Plans;
use crate::public_url::PublicUrl;
use crate::route_table::Route;
use crate::serve::ConnectionLimits;
use crate::{around, openapi, pages, routes, security_headers};

/// Tells the time.
pub type Clock = Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>;

/// How the service behaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// How long one request may take.
    pub time_limit: Duration,
    /// The largest body, in bytes.
    pub body_limit: usize,
    /// The largest body of an import, in bytes.
    pub import_limit: usize,
    /// How the planner works.
    pub plan: PlanSettings,
    /// Proxies that are believed where they tell who asked them.
    pub trusted_proxies: Vec<Network>,
    /// Where browsers reach the service, where that is not the address it listens on.
    pub public_url: Option<PublicUrl>,
    /// What one client may have of the service.
    pub limits: ConnectionLimits,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            time_limit: Duration::from_secs(30),
            body_limit: 1024 * 1024,
            import_limit: 64 * 1024 * 1024,
            plan: PlanSettings::default(),
            trusted_proxies: Vec::new(),
            public_url: None,
            limits: ConnectionLimits::default(),
        }
    }
}

impl Settings {
    /// Whether browsers reach the service over HTTPS.
    #[must_use]
    pub fn is_https(&self) -> bool {
        self.public_url.as_ref().is_some_and(PublicUrl::is_https)
    }
}

/// What every handler works with.
#[derive(Clone)]
pub struct Api {
    /// The shops.
    pub store: Arc<Store>,
    /// How the service behaves.
    pub settings: Arc<Settings>,
    clock: Clock,
    pub(crate) metrics: Metrics,
    pub(crate) plans: Arc<Plans>,
    pub(crate) backtests: Arc<Backtests>,
    pub(crate) known: Arc<Shops>,
    pub(crate) first_run: Arc<FirstRunCode>,
    pub(crate) passwords: Arc<Passwords>,
}

impl Api {
    /// Over a store whose tables are made.
    #[must_use]
    pub fn new(store: Arc<Store>, clock: Clock, settings: Settings) -> Self {
        let settings = Arc::new(settings);
        Self {
            store,
            settings,
            clock,
            metrics: Metrics::new(),
            plans: Arc::default(),
            backtests: Arc::default(),
            known: Arc::default(),
            first_run: Arc::default(),
            passwords: Arc::default(),
        }
    }

    /// What whoever runs the service says to become the owner, for as long as there is none.
    #[must_use]
    pub fn first_run_code(&self) -> &str {
        self.first_run.code()
    }

    /// Now, to the microsecond: what is answered is what the store will say later too.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        (self.clock)().trunc_subsecs(6)
    }
}

impl fmt::Debug for Api {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Api").field("settings", &self.settings).finish_non_exhaustive()
    }
}

/// Every address that the service answers, with its methods.
#[must_use]
pub fn route_list() -> Vec<Route> {
    let described = routes::methods().into_iter().flat_map(|(path, methods)| {
        let listed = methods.into_iter().filter(|method| *method != Method::HEAD);
        listed.map(move |method| Route { method, path: path.clone() })
    });
    described.chain(openapi::routes()).chain(pages::routes()).collect()
}

/// The whole service.
pub fn router(api: Api) -> Router {
    let Settings { time_limit, body_limit, limits, .. } = *api.settings;
    let (described, document) = routes::described(&api).split_for_parts();
    let no_store = HeaderValue::from_static("no-store");
    Router::new()
        .merge(described)
        .merge(openapi::docs(&api, document))
        .merge(pages::router(&api))
        .layer(DefaultBodyLimit::max(body_limit))
        .layer(RequestBodyTimeoutLayer::new(limits.pause))
        .layer(RequestBodyDeadlineLayer::new(limits.body_time))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, time_limit))
        .layer(CatchPanicLayer::custom(around::panicked))
        .layer(from_fn_with_state(api.clone(), around::around))
        .layer(SetResponseHeaderLayer::if_not_present(header::CACHE_CONTROL, no_store))
        .layer(from_fn_with_state(api.clone(), security_headers::add))
        .layer(CompressionLayer::new())
        .with_state(api)
}
