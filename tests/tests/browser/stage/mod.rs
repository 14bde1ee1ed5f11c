//! What stories in a browser are played on: a service in this very process, people with a phone or
//! a laptop before it, and what they see, do and are kept from.
//!
//! A story is an `async fn` that takes a [`Stage`], and is listed in `in_a_browser!`:
//!
//! ```ignore
//! in_a_browser!(a_wash_is_booked);
//!
//! async fn a_wash_is_booked(stage: Stage) {
//!     let shop = Shop::demo("2026-03-02").await;
//!     let phone = stage.before(&shop, Look::PHONE).await;
//!     phone.open("/").await;
//!     phone.tap("Book a job").await;
//!     phone.fill("Vehicle", "blue estate").await;
//!     phone.sees("Booked").await;
//!     phone.is_for_everybody().await;
//! }
//! ```

#![allow(clippy::unwrap_used, clippy::expect_used, dead_code)]

mod browser;
mod cdp;
mod checks;
mod finding;
mod hands;
mod line;
mod look;
mod people;
mod shop;
mod site;

pub use browser::{Browser, Stage};
pub use look::Look;
pub use people::PASSWORD;
pub use shop::{Shop, two_gulls};
pub use site::Site;

/// Plays each story with a browser; passes over it where none is told of.
#[macro_export]
macro_rules! in_a_browser {
    ($($story:ident),* $(,)?) => {
        mod in_a_browser {
            $(#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn $story() {
                if let Some(stage) = $crate::stage::Stage::set().await {
                    super::$story(stage).await;
                }
            })*
        }
    };
}
