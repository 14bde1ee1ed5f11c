//! PostgreSQL goes away and comes back: nobody is told that what they asked was wrong, and nothing
//! has to be started anew.

#![allow(clippy::unwrap_used)]

mod common;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};

use capful_store::{Change, StoreError};
use common::{Fresh, TestShop, noon, pour, receipt};
use tokio::net::{TcpListener, UnixStream};
use tokio::sync::watch;
use url::Url;

/// A line to PostgreSQL that can be cut.
struct Line {
    url: String,
    is_cut: Arc<AtomicBool>,
    cuts: watch::Sender<u32>,
}

impl Line {
    /// To the server of a database whose socket lies in a directory.
    async fn to(fresh: &Fresh) -> Self {
        let mut url = Url::parse(&fresh.url).unwrap();
        let pairs: Vec<(String, String)> = url.query_pairs().into_owned().collect();
        let place = pairs.iter().find(|(name, _)| name == "host").unwrap().1.clone();
        let socket = PathBuf::from(place).join(".s.PGSQL.5432");
        let rest = pairs.iter().filter(|(name, _)| name != "host");
        let rest: Vec<_> = rest.cloned().collect();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        url.set_host(Some("127.0.0.1")).unwrap();
        url.set_port(Some(listener.local_addr().unwrap().port())).unwrap();
        url.query_pairs_mut().clear().extend_pairs(rest).append_pair("sslmode", "disable");
        let (is_cut, cuts) = (Arc::new(AtomicBool::new(false)), watch::Sender::new(0));
        let (cut, told) = (Arc::clone(&is_cut), cuts.subscribe());
        tokio::spawn(async move {
            while let Ok((mut near, _)) = listener.accept().await {
                if cut.load(SeqCst) {
                    continue;
                }
                let (socket, mut told) = (socket.clone(), told.clone());
                told.mark_unchanged();
                tokio::spawn(async move {
                    let mut far = UnixStream::connect(socket).await.unwrap();
                    let carried = tokio::io::copy_bidirectional(&mut near, &mut far);
                    tokio::select! { _ = carried => {}, _ = told.changed() => {} }
                });
            }
        });
        Self { url: url.to_string(), is_cut, cuts }
    }

    fn cut(&self) {
        self.is_cut.store(true, SeqCst);
        self.cuts.send_modify(|cuts| *cuts += 1);
    }

    fn mend(&self) {
        self.is_cut.store(false, SeqCst);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_server_that_is_away_is_unavailable_until_it_is_back() {
    let Some(fresh) = Fresh::postgres().await else { return };
    let line = Line::to(&fresh).await;
    let through = Fresh::at(&line.url);
    let shop = TestShop::with_soap(&through).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 3)])).await;
    line.cut();
    let pour = || Change::Pour(vec![pour("p1", noon(3), "soap", 10)]);
    for _ in 0..20 {
        let refused = shop.tries(pour()).await.unwrap_err();
        assert!(matches!(refused, StoreError::Unavailable(_)), "{refused:?}");
        let unseen = shop.store.facts(shop.shop, None).await.unwrap_err();
        assert!(matches!(unseen, StoreError::Unavailable(_)), "{unseen:?}");
        let unproven = shop.store.prove_write(noon(4)).await.unwrap_err();
        assert!(matches!(unproven, StoreError::Unavailable(_)), "{unproven:?}");
    }
    line.mend();
    shop.store.prove_write(noon(4)).await.unwrap();
    shop.done(pour()).await;
    shop.is_as_replayed().await;
}
