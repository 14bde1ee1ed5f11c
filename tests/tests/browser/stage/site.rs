//! Anything that answers in this process.

use std::net::SocketAddr;

use axum::Router;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;

/// A service on a port of its own, for as long as this is held.
pub struct Site {
    /// Where it listens.
    pub address: SocketAddr,
    served: JoinHandle<()>,
}

impl Site {
    /// Answers with a router.
    pub async fn of(router: Router) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let served = tokio::spawn(async move {
            axum::serve(listener, router).await.unwrap();
        });
        Self { address, served }
    }
}

impl AsRef<Site> for Site {
    fn as_ref(&self) -> &Site {
        self
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        self.served.abort();
    }
}
