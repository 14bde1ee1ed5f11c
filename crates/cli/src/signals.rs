//! How a person or the system asks the program to stop.

/// What asks the program to stop, listened to from when this is made: ctrl-c, and the system's
/// signal to end.
pub(crate) struct Stops {
    #[cfg(unix)]
    signals: Vec<tokio::signal::unix::Signal>,
}

#[cfg(unix)]
impl Stops {
    /// Listens from now on. A signal that cannot be listened to does what it does by itself.
    pub(crate) fn listen() -> Self {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [SignalKind::interrupt(), SignalKind::terminate()];
        Self { signals: kinds.into_iter().filter_map(|kind| signal(kind).ok()).collect() }
    }

    /// Waits for the next one. None is lost between two waits.
    pub(crate) async fn next(&mut self) {
        std::future::poll_fn(|context| {
            let mut came = false;
            for signal in &mut self.signals {
                came |= signal.poll_recv(context).is_ready();
            }
            if came { std::task::Poll::Ready(()) } else { std::task::Poll::Pending }
        })
        .await;
    }
}

#[cfg(not(unix))]
impl Stops {
    /// Only ctrl-c is known here.
    pub(crate) const fn listen() -> Self {
        Self {}
    }

    /// Waits for the next one.
    pub(crate) async fn next(&mut self) {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    }
}
