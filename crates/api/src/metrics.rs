//! Counters for Prometheus. Each service has its own, so that several can run in one process.

use std::sync::Arc;

use axum::http::Method;
use capful_store::{BackupStatus, Connections};
use metrics::{counter, gauge, histogram, with_local_recorder};
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusRecorder};

/// Upper ends of the buckets of durations, in seconds.
const SECONDS: [f64; 12] = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0];

/// The counters of one service.
#[derive(Clone)]
pub(crate) struct Metrics {
    recorder: Arc<PrometheusRecorder>,
}

impl Metrics {
    pub(crate) fn new() -> Self {
        let builder = PrometheusBuilder::new();
        let builder = builder.set_buckets(&SECONDS).unwrap_or_else(|_| PrometheusBuilder::new());
        let metrics = Self { recorder: Arc::new(builder.build_recorder()) };
        metrics.describe();
        metrics
    }

    fn describe(&self) {
        with_local_recorder(&*self.recorder, || {
            metrics::describe_counter!("capful_requests_total", "Requests that were answered.");
            metrics::describe_histogram!("capful_request_seconds", "How long answers took.");
            metrics::describe_counter!("capful_plans_total", "Plans given: made, or made before.");
            metrics::describe_histogram!("capful_plan_seconds", "How long plans took to make.");
            metrics::describe_counter!(
                "capful_database_statements_total",
                "Statements that the database was asked."
            );
            metrics::describe_gauge!("capful_database_connections", "Connections, by their state.");
            metrics::describe_gauge!("capful_wal_bytes", "SQLite's write-ahead log.");
            metrics::describe_gauge!(
                "capful_passwords_at_once_most",
                "Passwords that were worked out at once, at most so far."
            );
            metrics::describe_counter!(
                "capful_backups_total",
                "Scheduled copies of the database: made, or failed."
            );
            metrics::describe_gauge!(
                "capful_backup_last_made_timestamp_seconds",
                "When the last scheduled copy was made, since the service started."
            );
        });
    }

    /// A request was answered.
    pub(crate) fn request(&self, method: &Method, route: &str, status: u16, seconds: f64) {
        // Only methods that there are: a caller may not make up series.
        let method = match method.as_str() {
            name @ ("GET" | "HEAD" | "POST" | "PUT" | "PATCH" | "DELETE" | "OPTIONS") => name,
            _ => "other",
        };
        let (method, route) = (method.to_owned(), route.to_owned());
        with_local_recorder(&*self.recorder, || {
            let took = histogram!(
                "capful_request_seconds",
                "method" => method.clone(), "route" => route.clone()
            );
            took.record(seconds);
            let status = status.to_string();
            counter!(
                "capful_requests_total", "method" => method, "route" => route, "status" => status
            )
            .increment(1);
        });
    }

    /// A plan was made.
    pub(crate) fn plan_made(&self, seconds: f64) {
        with_local_recorder(&*self.recorder, || {
            counter!("capful_plans_total", "how" => "made").increment(1);
            histogram!("capful_plan_seconds").record(seconds);
        });
    }

    /// A plan was given that had been made before.
    pub(crate) fn plan_kept(&self) {
        with_local_recorder(&*self.recorder, || {
            counter!("capful_plans_total", "how" => "kept").increment(1);
        });
    }

    /// How busy the connections to the database are.
    pub(crate) fn connections(&self, now: Connections) {
        let busy = now.open.saturating_sub(now.idle);
        with_local_recorder(&*self.recorder, || {
            gauge!("capful_database_connections", "state" => "idle").set(f64::from(now.idle));
            gauge!("capful_database_connections", "state" => "busy").set(f64::from(busy));
        });
    }

    /// How large SQLite's write-ahead log is.
    pub(crate) fn wal_bytes(&self, bytes: u64) {
        with_local_recorder(&*self.recorder, || gauge!("capful_wal_bytes").set(bytes as f64));
    }

    /// How many passwords were worked out at once, at most so far.
    pub(crate) fn passwords(&self, most: usize) {
        let most = u32::try_from(most).unwrap_or(u32::MAX);
        with_local_recorder(&*self.recorder, || {
            gauge!("capful_passwords_at_once_most").set(f64::from(most));
        });
    }

    /// Statements that the database was asked so far.
    pub(crate) fn statements(&self, so_far: u64) {
        with_local_recorder(&*self.recorder, || {
            counter!("capful_database_statements_total").absolute(so_far);
        });
    }

    /// How scheduled copies fare: nothing is said where none was ever due.
    pub(crate) fn backups(&self, status: &BackupStatus) {
        let (made, failed) = status.counts();
        if made + failed == 0 {
            return;
        }
        with_local_recorder(&*self.recorder, || {
            counter!("capful_backups_total", "result" => "made").absolute(made);
            counter!("capful_backups_total", "result" => "failed").absolute(failed);
            if let Some(at) = status.last_made() {
                #[allow(clippy::cast_precision_loss)] // exact for millions of years
                gauge!("capful_backup_last_made_timestamp_seconds").set(at as f64);
            }
        });
    }

    /// All of them, as Prometheus reads them.
    pub(crate) fn text(&self) -> String {
        let handle = self.recorder.handle();
        handle.run_upkeep();
        handle.render()
    }
}
