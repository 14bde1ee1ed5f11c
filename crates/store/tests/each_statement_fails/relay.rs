//! A relay on the way to PostgreSQL that counts what is asked of it, and cuts off where it is told.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::SeqCst};

use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::unix::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{UnixListener, UnixStream};

/// The name of PostgreSQL's socket in its directory.
const SOCKET: &str = ".s.PGSQL.5432";
/// What a client says first where it would rather speak under TLS, or under Kerberos.
const WISHES: [u32; 2] = [80_877_103, 80_877_104];

/// What is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// The statement: PostgreSQL never sees it.
    Statement,
    /// The answer: PostgreSQL does as it was told, and nobody hears of it.
    Answer,
}

/// A socket beside PostgreSQL's own.
pub struct Relay {
    directory: TempDir,
    server: String,
    state: Arc<State>,
}

#[derive(Debug, Default)]
struct State {
    asked: AtomicU64,
    /// The one to be cut off; 0: none.
    due: AtomicU64,
    loses_answer: AtomicBool,
    was_cut: AtomicBool,
}

impl State {
    /// Whether the next message to the server is the one to be cut off.
    fn is_due(&self, kind: u8) -> bool {
        // To prepare a statement, to execute it, or both with its text.
        if ![b'P', b'E', b'Q'].contains(&kind) {
            return false;
        }
        let number = self.asked.fetch_add(1, SeqCst) + 1;
        let is_due = number == self.due.load(SeqCst);
        if is_due {
            self.was_cut.store(true, SeqCst);
        }
        is_due
    }
}

impl Relay {
    /// Before the server of an address whose host is a directory.
    pub async fn before(url: &str) -> Self {
        let (_, rest) = url.split_once("host=").unwrap();
        let server = rest.split('&').next().unwrap().to_owned();
        let directory = tempfile::tempdir().unwrap();
        let listener = UnixListener::bind(directory.path().join(SOCKET)).unwrap();
        let state = Arc::new(State::default());
        let (own, to) = (Arc::clone(&state), PathBuf::from(&server).join(SOCKET));
        tokio::spawn(async move {
            while let Ok((client, _)) = listener.accept().await {
                let Ok(server) = UnixStream::connect(&to).await else { continue };
                tokio::spawn(relay(client, server, Arc::clone(&own)));
            }
        });
        Self { directory, server, state }
    }

    /// The same address by way of this relay.
    pub fn url(&self, url: &str) -> String {
        url.replace(&self.server, &self.directory.path().display().to_string())
    }

    /// Cuts off what is asked as this number from now on.
    pub fn cut(&self, number: u64, what: Cut) {
        self.state.was_cut.store(false, SeqCst);
        self.state.loses_answer.store(what == Cut::Answer, SeqCst);
        self.state.asked.store(0, SeqCst);
        self.state.due.store(number, SeqCst);
    }

    /// Cuts nothing off any more; whether something was.
    pub fn stop_cutting(&self) -> bool {
        self.state.due.store(0, SeqCst);
        self.state.was_cut.load(SeqCst)
    }
}

async fn relay(client: UnixStream, server: UnixStream, state: Arc<State>) {
    let (from_client, to_client) = client.into_split();
    let (from_server, to_server) = server.into_split();
    let is_cut = Arc::new(AtomicBool::new(false));
    tokio::spawn(answers(from_server, to_client, Arc::clone(&is_cut)));
    // Either side may go away at any time: then the other is told by the end of what it reads.
    let _ = requests(from_client, to_server, &state, &is_cut).await;
}

/// Hands on what the client asks, message by message, until one is to be cut off.
async fn requests(
    mut client: OwnedReadHalf,
    mut server: OwnedWriteHalf,
    state: &State,
    is_cut: &AtomicBool,
) -> std::io::Result<()> {
    loop {
        let length = client.read_u32().await?;
        let mut rest = vec![0; length as usize - 4];
        client.read_exact(&mut rest).await?;
        server.write_all(&length.to_be_bytes()).await?;
        server.write_all(&rest).await?;
        let code = rest.first_chunk().map(|code| u32::from_be_bytes(*code));
        if code.is_none_or(|code| !WISHES.contains(&code)) {
            break;
        }
    }
    loop {
        let kind = client.read_u8().await?;
        let length = client.read_u32().await?;
        let mut message = vec![0; length as usize - 4];
        client.read_exact(&mut message).await?;
        let is_due = state.is_due(kind);
        if is_due {
            is_cut.store(true, SeqCst);
        }
        if !is_due || state.loses_answer.load(SeqCst) {
            server.write_u8(kind).await?;
            server.write_u32(length).await?;
            server.write_all(&message).await?;
        }
        if is_due {
            return server.shutdown().await;
        }
    }
}

/// Hands on what the server answers. Of one that was cut off nothing more, and the client sees the
/// end of it when the server has come to its own.
async fn answers(mut server: OwnedReadHalf, mut client: OwnedWriteHalf, is_cut: Arc<AtomicBool>) {
    let mut bytes = vec![0; 64 * 1024];
    while let Ok(read) = server.read(&mut bytes).await {
        if read == 0 {
            break;
        }
        let is_cut = is_cut.load(SeqCst);
        if !is_cut && client.write_all(&bytes[..read]).await.is_err() {
            break;
        }
    }
}
