//! Answering on a listener until told to stop.

use std::future::{Future, IntoFuture, pending};
use std::io;
use std::time::Duration;

use axum::Router;
use tokio::net::TcpListener;
use tokio::sync::oneshot;

/// Answers on `listener` until `shutdown` is done, then finishes what is in flight, for as long as
/// `deadline` at most.
///
/// # Errors
/// What the listener fails with.
pub async fn serve(
    listener: TcpListener,
    router: Router,
    shutdown: impl Future<Output = ()> + Send + 'static,
    deadline: Duration,
) -> io::Result<()> {
    let (told, tell) = oneshot::channel();
    let stopping = async move {
        shutdown.await;
        tracing::info!("stopping: what is in flight is finished");
        // Nobody listens any more where the server has failed.
        let _ = told.send(());
    };
    let server = axum::serve(listener, router).with_graceful_shutdown(stopping);
    let too_late = async move {
        match tell.await {
            Ok(()) => tokio::time::sleep(deadline).await,
            Err(_) => pending().await,
        }
    };
    tokio::select! {
        ended = server.into_future() => ended,
        () = too_late => {
            tracing::warn!(seconds = deadline.as_secs_f64(), "stopped with requests in flight");
            Ok(())
        }
    }
}
