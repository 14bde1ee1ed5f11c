//! The line between one browser and a service, which can be cut. A browser's own setting for being
//! offline leaves out the requests of a service worker; a line that is cut leaves out none.

use std::net::SocketAddr;

use tokio::io::{AsyncReadExt, copy, copy_bidirectional};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// How a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Line {
    /// Carries both ways.
    Up,
    /// Carries nothing.
    Down,
    /// Carries requests; breaks as soon as the service answers.
    AnswersLost,
}

/// A line with an address of its own, so that the address stays while the line is cut.
pub struct Gate {
    /// Where it is reached.
    pub address: SocketAddr,
    line: watch::Sender<Line>,
}

impl Gate {
    /// A line that is up.
    pub async fn before(service: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let (line, seen) = watch::channel(Line::Up);
        tokio::spawn(async move {
            while let Ok((near, _)) = listener.accept().await {
                tokio::spawn(carry(near, service, seen.clone()));
            }
        });
        Self { address, line }
    }

    /// Cuts or mends it; whatever was on it is broken off.
    pub fn set(&self, line: Line) {
        self.line.send_replace(line);
    }

    /// Whether the line is so.
    pub fn is(&self, line: Line) -> bool {
        *self.line.borrow() == line
    }
}

/// Carries one connection until either end has done or the line is changed.
async fn carry(mut near: TcpStream, service: SocketAddr, mut line: watch::Receiver<Line>) {
    let now = *line.borrow_and_update();
    if now == Line::Down {
        return;
    }
    let Ok(mut far) = TcpStream::connect(service).await else { return };
    let carried = async {
        if now == Line::AnswersLost {
            let (mut asks, _unanswered) = near.split();
            let (mut answers, mut asked) = far.split();
            let mut first = [0];
            tokio::select! {
                _ = copy(&mut asks, &mut asked) => {}
                _ = answers.read(&mut first) => {}
            }
        } else {
            let _ = copy_bidirectional(&mut near, &mut far).await;
        }
    };
    tokio::select! {
        () = carried => {}
        _ = line.changed() => {}
    }
}
