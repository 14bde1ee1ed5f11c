//! A service that runs until it is asked to stop.

use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

use capful_api::{Api, ConnectionLimits};
use capful_store::{Forgotten, Retention, Store};
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use crate::answer::Failure;
use crate::clock;
use crate::settings::Settings;
use crate::signals::Stops;

/// How often what is older than it is kept is thrown away.
const TIDIED_EVERY: Duration = Duration::from_secs(3600);

/// Says something on standard output now, and not when the program ends.
pub(crate) fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    let said = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    match said {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::Serving { what: "standard output".to_owned(), error })
        }
        _ => Ok(()),
    }
}

/// The program as it was called, so that lines with it can be copied.
pub(crate) fn program() -> String {
    std::env::args().next().unwrap_or_else(|| "capful".to_owned())
}

/// Listens on an address and a port.
pub(crate) async fn listen(address: &str) -> Result<TcpListener, Failure> {
    TcpListener::bind(address).await.map_err(|error| {
        let what = format!("cannot listen on {address}, --listen names another address");
        Failure::Serving { what, error }
    })
}

/// Where a listener listens.
pub(crate) fn address(listener: &TcpListener) -> Result<String, Failure> {
    let failed = |error| Failure::Serving { what: "no address".to_owned(), error };
    Ok(format!("http://{}", listener.local_addr().map_err(failed)?))
}

/// Where browsers reach the service: at the public address, else where it listens.
pub(crate) fn reached(listener: &TcpListener, settings: &Settings) -> Result<String, Failure> {
    match settings.public_url() {
        Ok(Some(public)) => Ok(public.to_string()),
        _ => address(listener),
    }
}

/// Answers until a signal to stop, then finishes what is in flight; at a second signal it stops at
/// once.
pub(crate) async fn serve(
    store: Store,
    listener: TcpListener,
    settings: &Settings,
) -> Result<(), Failure> {
    let store = Arc::new(store);
    let api = Api::new(Arc::clone(&store), Arc::new(clock::now), api_settings(settings));
    if !store.has_people().await? {
        let reached = reached(&listener, settings)?;
        say(&format!(
            "Nobody signs in to the pages yet. Become the owner at {reached}/welcome?code={}\n",
            api.first_run_code()
        ))?;
    }
    let (tell, told) = oneshot::channel::<()>();
    let stop = async move {
        // Where nobody is left to tell, it is time to stop too.
        let _ = told.await;
    };
    let deadline = Duration::from_secs(settings.shutdown_seconds.into());
    let mut stops = Stops::listen();
    let twice = async {
        stops.next().await;
        let _ = tell.send(());
        stops.next().await;
        tracing::warn!("stopped at once");
    };
    let (limits, router) = (api.settings.limits, capful_api::router(api));
    let copying = copying(&store, settings);
    let answered = tokio::select! {
        () = twice => Ok(()),
        ended = capful_api::serve(listener, router, limits, stop, deadline) => ended,
        () = tidy(&store, settings.retention()) => Ok(()),
    };
    end(copying).await;
    if let Some(store) = Arc::into_inner(store) {
        store.close().await;
    }
    answered.map_err(|error| Failure::Serving { what: "the service ended".to_owned(), error })
}

/// Makes copies of the database by itself, beside everything else, where any are asked for.
fn copying(store: &Arc<Store>, settings: &Settings) -> Option<JoinHandle<()>> {
    let (copies, store) = (settings.copies()?, Arc::clone(store));
    Some(tokio::spawn(async move { copies.keep_making(&store).await }))
}

/// Ends it, whatever it is at: what is half written goes with it.
async fn end(copying: Option<JoinHandle<()>>) {
    let Some(copying) = copying else { return };
    copying.abort();
    // One that does not end in time is left to the end of the process.
    let _ = tokio::time::timeout(Duration::from_secs(1), copying).await;
}

fn api_settings(settings: &Settings) -> capful_api::Settings {
    let seconds = |number: u32| Duration::from_secs(number.into());
    let bytes = |kib: u32| usize::try_from(u64::from(kib) * 1024).unwrap_or(usize::MAX);
    capful_api::Settings {
        time_limit: seconds(settings.request_seconds),
        body_limit: bytes(settings.body_limit_kib),
        import_limit: bytes(settings.import_limit_kib),
        plan: settings.plan(),
        trusted_proxies: settings.trusted_proxies(),
        // What is wrong with it was told when the settings were read.
        public_url: settings.public_url().ok().flatten(),
        limits: ConnectionLimits {
            connections: usize::try_from(settings.connections).unwrap_or(usize::MAX),
            head_time: seconds(settings.head_seconds),
            pause: seconds(settings.pause_seconds),
            body_time: seconds(settings.body_seconds),
        },
    }
}

/// Throws away, again and again, what is older than it is kept.
async fn tidy(store: &Store, kept: Retention) {
    loop {
        match store.forget_old(&kept, clock::now()).await {
            Ok(Forgotten { answers, sessions, tries, devices, deeds }) => {
                tracing::debug!(answers, sessions, tries, devices, deeds, "old rows thrown away");
            }
            Err(error) => tracing::warn!(%error, "what is old is kept"),
        }
        tokio::time::sleep(TIDIED_EVERY).await;
    }
}
