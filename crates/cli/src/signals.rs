//! How a person or the system asks the program to stop.

/// Waits for ctrl-c, or for the system's signal to end.
pub(crate) async fn stop() {
    let ctrl_c = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    tokio::select! {
        () = ctrl_c => {}
        () = ended() => {}
    }
}

/// SIGTERM, which service managers send.
#[cfg(unix)]
async fn ended() {
    use tokio::signal::unix::{SignalKind, signal};
    match signal(SignalKind::terminate()) {
        Ok(mut signal) => drop(signal.recv().await),
        Err(_) => std::future::pending().await,
    }
}

/// Only ctrl-c is known here.
#[cfg(not(unix))]
async fn ended() {
    std::future::pending().await
}
