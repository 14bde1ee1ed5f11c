//! Whether the service is well, for whatever watches over it.

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;

use crate::api::Api;
use crate::problem::{Kind, Problem};

/// The process answers.
pub(crate) async fn alive() -> &'static str {
    "alive\n"
}

/// The database answers too, and has the tables of this version.
pub(crate) async fn ready(State(api): State<Api>) -> Result<&'static str, Problem> {
    let not_ready = |detail: &str| Problem::new(Kind::NotReady, detail);
    api.store.ping().await.map_err(|error| {
        tracing::error!(%error, "not ready");
        not_ready("the database does not answer")
    })?;
    match api.store.pending().await {
        Ok(0) => Ok("ready\n"),
        _ => Err(not_ready("the database has not got the tables of this version")),
    }
}

/// Counters, as Prometheus reads them.
pub(crate) async fn metrics(State(api): State<Api>) -> impl IntoResponse {
    api.metrics.connections(api.store.connections());
    let kind = [(header::CONTENT_TYPE, "text/plain; version=0.0.4")];
    (kind, api.metrics.text())
}
