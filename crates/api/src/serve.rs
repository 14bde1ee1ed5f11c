//! Answering on a listener until told to stop. Connections are of a bounded number, and none is
//! held for ever by whoever sends half a request, or takes half an answer.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::{GracefulShutdown, Watcher};
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::{JoinError, JoinSet};
use tokio::time::{Sleep, sleep, timeout};

/// Bytes of a request's head, and of what is read ahead of its body, that are held at most.
const HEAD_BYTES: usize = 64 * 1024;

/// How long it takes until a connection is taken on again where the system had none to give.
const NO_CONNECTION_PAUSE: Duration = Duration::from_secs(1);

/// What one client may have of the service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ConnectionLimits {
    /// Connections that are open at once; the rest wait until one of them ends.
    pub connections: usize,
    /// From the beginning of a connection, or from an answer, until the next request's head must
    /// be whole; also what an idle connection is kept for.
    pub head_time: Duration,
    /// The longest pause in a request's body, and in the taking of an answer.
    pub pause: Duration,
    /// From a request's head until its body must be whole.
    pub body_time: Duration,
}

impl Default for ConnectionLimits {
    fn default() -> Self {
        Self {
            connections: 512,
            head_time: Duration::from_secs(20),
            pause: Duration::from_secs(10),
            body_time: Duration::from_secs(25),
        }
    }
}

/// Answers on `listener` until `shutdown` is done, then finishes what is in flight, for as long as
/// `deadline` at most. Each request carries `ConnectInfo<SocketAddr>`: who is at the other end of
/// its connection.
///
/// # Errors
/// What the listener fails with.
pub async fn serve(
    listener: TcpListener,
    router: Router,
    limits: ConnectionLimits,
    shutdown: impl Future<Output = ()> + Send + 'static,
    deadline: Duration,
) -> io::Result<()> {
    let (graceful, mut connections) = (GracefulShutdown::new(), JoinSet::new());
    let mut shutdown = std::pin::pin!(shutdown);
    loop {
        let has_room = connections.len() < limits.connections;
        tokio::select! {
            () = &mut shutdown => break,
            Some(ended) = connections.join_next() => note(ended),
            accepted = listener.accept(), if has_room => match accepted {
                Ok((stream, peer)) => {
                    let watcher = graceful.watcher();
                    connections.spawn(answer(stream, peer, router.clone(), limits, watcher));
                    if connections.len() == limits.connections {
                        tracing::warn!(connections = limits.connections, "others wait");
                    }
                }
                Err(error) if is_of_one_connection(&error) => {}
                Err(error) => {
                    tracing::error!(%error, "no connection is taken on");
                    sleep(NO_CONNECTION_PAUSE).await;
                }
            },
        }
    }
    drop(listener);
    tracing::info!("stopping: what is in flight is finished");
    let finished = async {
        graceful.shutdown().await;
        while let Some(ended) = connections.join_next().await {
            note(ended);
        }
    };
    if timeout(deadline, finished).await.is_err() {
        tracing::warn!(seconds = deadline.as_secs_f64(), "stopped with requests in flight");
    }
    Ok(())
}

/// Answers the requests of one connection.
async fn answer(
    stream: TcpStream,
    peer: SocketAddr,
    router: Router,
    limits: ConnectionLimits,
    watcher: Watcher,
) {
    let inner = TowerToHyperService::new(router);
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(ConnectInfo(peer));
        inner.call(request)
    });
    let stream = TokioIo::new(TakenInTime { stream, pause: limits.pause, stalled: None });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head_time)
        .max_buf_size(HEAD_BYTES)
        .serve_connection(stream, service);
    if let Err(error) = watcher.watch(connection).await {
        tracing::debug!(%peer, %error, "a connection ended early");
    }
}

/// Whether a connection could not be taken on that its other end gave up by itself.
fn is_of_one_connection(error: &io::Error) -> bool {
    use io::ErrorKind::{ConnectionAborted, ConnectionRefused, ConnectionReset};
    matches!(error.kind(), ConnectionAborted | ConnectionRefused | ConnectionReset)
}

fn note(ended: Result<(), JoinError>) {
    if let Err(error) = ended {
        tracing::error!(%error, "a connection ended by a fault");
    }
}

/// A stream that fails where its other end takes nothing of an answer for as long as `pause`.
struct TakenInTime {
    stream: TcpStream,
    pause: Duration,
    stalled: Option<Pin<Box<Sleep>>>,
}

impl TakenInTime {
    fn in_time<T>(
        &mut self,
        context: &mut Context<'_>,
        taken: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if taken.is_ready() {
            self.stalled = None;
            return taken;
        }
        let pause = self.pause;
        let stalled = self.stalled.get_or_insert_with(|| Box::pin(sleep(pause)));
        ready!(stalled.as_mut().poll(context));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncRead for TakenInTime {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, into)
    }
}

impl AsyncWrite for TakenInTime {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let taken = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.in_time(context, taken)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let taken = Pin::new(&mut self.stream).poll_write_vectored(context, slices);
        self.in_time(context, taken)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
