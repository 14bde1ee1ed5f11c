//! Whether the service is well, for whatever watches over it.

use std::time::Duration;

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use capful_store::StoreError;

use crate::api::Api;
use crate::problem::{Kind, Problem, ProblemDetails};

/// How long the database may take to answer: less than what watches over a service waits for it.
const PATIENCE: Duration = Duration::from_secs(2);

/// The service answers, and does not get its database copied.
const READY_WITHOUT_COPY: &str =
    "ready\nThe last scheduled copy of the database was not made: the log says why.\n";

/// The process answers
#[utoipa::path(
    get,
    path = "/healthz",
    tag = "service",
    responses((status = 200, description = "It does", body = String, content_type = "text/plain"))
)]
pub(crate) async fn alive() -> &'static str {
    "alive\n"
}

/// The database answers too, takes writes, and has the tables of this version
#[utoipa::path(
    get,
    path = "/readyz",
    tag = "service",
    responses(
        (status = 200, description = "It does", body = String, content_type = "text/plain"),
        (status = 503, description = "It does not: ask again later", body = ProblemDetails,
            content_type = "application/problem+json")
    )
)]
pub(crate) async fn ready(State(api): State<Api>) -> Result<&'static str, Problem> {
    let not_ready = |detail: &str| Problem::new(Kind::NotReady, detail);
    let asked = async {
        api.store.ping().await?;
        let pending = api.store.pending().await;
        if matches!(pending, Ok(0)) {
            api.store.prove_write(api.now()).await?;
        }
        Ok::<_, StoreError>(pending)
    };
    match tokio::time::timeout(PATIENCE, asked).await {
        // What is not copied is a matter for whoever reads the log, and no reason not to answer.
        Ok(Ok(Ok(0))) if api.store.backups().is_failing() => Ok(READY_WITHOUT_COPY),
        Ok(Ok(Ok(0))) => Ok("ready\n"),
        Ok(Ok(_)) => Err(not_ready("the database has not got the tables of this version")),
        Ok(Err(error)) => {
            tracing::error!(%error, "not ready");
            Err(not_ready("the database does not answer, or takes no writes"))
        }
        Err(_) => {
            tracing::error!("not ready: the database does not answer in time");
            Err(not_ready("the database does not answer in time"))
        }
    }
}

/// Counters, as Prometheus reads them
#[utoipa::path(
    get,
    path = "/metrics",
    tag = "service",
    responses(
        (status = 200, description = "All of them", body = String, content_type = "text/plain")
    )
)]
pub(crate) async fn metrics(State(api): State<Api>) -> impl IntoResponse {
    api.metrics.connections(api.store.connections());
    api.metrics.statements(api.store.statements());
    api.metrics.wal_bytes(api.store.wal_bytes());
    api.metrics.passwords(api.passwords.most_at_once());
    api.metrics.backups(api.store.backups());
    let kind = [(header::CONTENT_TYPE, "text/plain; version=0.0.4")];
    (kind, api.metrics.text())
}
