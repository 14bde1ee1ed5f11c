//! A network between the service and PostgreSQL that cuts, delays and stalls.

use std::io::{ErrorKind, Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::SeqCst};
use std::time::Duration;

/// How often a connection without traffic looks at how the network is.
const LOOK: Duration = Duration::from_millis(10);

/// How the network is.
#[derive(Debug, Default)]
struct Network {
    /// Raised to cut every connection.
    cuts: AtomicU64,
    is_stalled: AtomicBool,
    is_refusing: AtomicBool,
    delay_ms: AtomicU64,
    is_over: AtomicBool,
}

/// A port behind which another stands.
#[derive(Debug)]
pub struct Proxy {
    pub port: u16,
    network: Arc<Network>,
}

impl Proxy {
    pub fn before(target: u16) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let network = Arc::new(Network::default());
        let own = Arc::clone(&network);
        std::thread::spawn(move || accept(&listener, target, &own));
        Self { port, network }
    }

    /// Cuts every connection, in the middle of what is on its way.
    pub fn cut(&self) {
        self.network.cuts.fetch_add(1, SeqCst);
    }

    /// Nothing gets through, and nobody is told; until it is set free.
    pub fn stall(&self, is_stalled: bool) {
        self.network.is_stalled.store(is_stalled, SeqCst);
    }

    /// New connections are cut at once.
    pub fn refuse(&self, is_refusing: bool) {
        self.network.is_refusing.store(is_refusing, SeqCst);
    }

    /// Everything takes so much longer.
    pub fn delay(&self, milliseconds: u64) {
        self.network.delay_ms.store(milliseconds, SeqCst);
    }
}

impl Drop for Proxy {
    fn drop(&mut self) {
        self.network.is_over.store(true, SeqCst);
        self.cut();
        // Wakes the one who waits for connections.
        let _ = TcpStream::connect(("127.0.0.1", self.port));
    }
}

fn accept(listener: &TcpListener, target: u16, network: &Arc<Network>) {
    for near in listener.incoming().map_while(Result::ok) {
        if network.is_over.load(SeqCst) {
            return;
        }
        if network.is_refusing.load(SeqCst) {
            continue;
        }
        let Ok(far) = TcpStream::connect(("127.0.0.1", target)) else { continue };
        for (from, to) in [(&near, &far), (&far, &near)] {
            let (from, to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
            let network = Arc::clone(network);
            std::thread::spawn(move || {
                carry(&from, &to, &network);
                let _ = from.shutdown(Shutdown::Both);
                let _ = to.shutdown(Shutdown::Both);
            });
        }
    }
}

/// Carries what comes from one to the other, as the network is.
fn carry(mut from: &TcpStream, mut to: &TcpStream, network: &Network) {
    let cuts = network.cuts.load(SeqCst);
    let _ = from.set_read_timeout(Some(LOOK));
    let _ = to.set_nodelay(true);
    let mut buffer = vec![0; 16 * 1024];
    loop {
        let read = match from.read(&mut buffer) {
            Ok(0) => return,
            Ok(read) => read,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {
                if network.cuts.load(SeqCst) != cuts {
                    return;
                }
                continue;
            }
            Err(_) => return,
        };
        std::thread::sleep(Duration::from_millis(network.delay_ms.load(SeqCst)));
        while network.is_stalled.load(SeqCst) && network.cuts.load(SeqCst) == cuts {
            std::thread::sleep(LOOK);
        }
        if network.cuts.load(SeqCst) != cuts {
            // Half of it was through already.
            let _ = to.write_all(&buffer[..read / 2]);
            return;
        }
        if to.write_all(&buffer[..read]).is_err() {
            return;
        }
    }
}
