//! A service that runs until it is asked to stop.

use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

use capful_api::Api;
use capful_store::Store;
use chrono::TimeDelta;
use tokio::net::TcpListener;
use tokio::sync::oneshot;

use crate::answer::Failure;
use crate::settings::Settings;
use crate::{clock, signals};

/// Answers are given again to the same request for so long.
const ANSWERS_KEPT: TimeDelta = TimeDelta::days(2);

/// Sessions that have ended are kept for so long.
const SESSIONS_KEPT: TimeDelta = TimeDelta::days(30);

/// How often older ones are thrown away.
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

/// Where a listener is reached.
pub(crate) fn address(listener: &TcpListener) -> Result<String, Failure> {
    let failed = |error| Failure::Serving { what: "no address".to_owned(), error };
    Ok(format!("http://{}", listener.local_addr().map_err(failed)?))
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
        say(&format!(
            "Nobody signs in to the pages yet. Become the owner at {}/welcome?code={}\n",
            address(&listener)?,
            api.first_run_code()
        ))?;
    }
    let (tell, told) = oneshot::channel::<()>();
    let stop = async move {
        // Where nobody is left to tell, it is time to stop too.
        let _ = told.await;
    };
    let deadline = Duration::from_secs(settings.shutdown_seconds.into());
    let twice = async {
        signals::stop().await;
        let _ = tell.send(());
        signals::stop().await;
        tracing::warn!("stopped at once");
    };
    // In this order: signals are listened to before the first request is answered.
    let answered = tokio::select! {
        biased;
        () = twice => Ok(()),
        ended = capful_api::serve(listener, capful_api::router(api), stop, deadline) => ended,
        () = tidy(&store) => Ok(()),
    };
    if let Some(store) = Arc::into_inner(store) {
        store.close().await;
    }
    answered.map_err(|error| Failure::Serving { what: "the service ended".to_owned(), error })
}

fn api_settings(settings: &Settings) -> capful_api::Settings {
    let bytes = |kib: u32| usize::try_from(u64::from(kib) * 1024).unwrap_or(usize::MAX);
    capful_api::Settings {
        time_limit: Duration::from_secs(settings.request_seconds.into()),
        body_limit: bytes(settings.body_limit_kib),
        import_limit: bytes(settings.import_limit_kib),
        plan: settings.plan(),
        secure_cookies: settings.secure_cookies,
    }
}

/// Throws answers and sessions away that nobody will ask for again; for ever.
async fn tidy(store: &Store) {
    loop {
        match store.forget_answers(clock::now() - ANSWERS_KEPT).await {
            Ok(0) => {}
            Ok(answers) => tracing::debug!(answers, "old answers thrown away"),
            Err(error) => tracing::warn!(%error, "old answers are kept"),
        }
        match store.forget_sessions(clock::now() - SESSIONS_KEPT).await {
            Ok(0) => {}
            Ok(sessions) => tracing::debug!(sessions, "old sessions thrown away"),
            Err(error) => tracing::warn!(%error, "old sessions are kept"),
        }
        tokio::time::sleep(TIDIED_EVERY).await;
    }
}
