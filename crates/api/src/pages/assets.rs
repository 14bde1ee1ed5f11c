//! What pages load beside themselves: one stylesheet, one script, what makes them installable.
//!
//! Style and script are asked for under a name that changes with what is in them, and may be kept
//! for ever.

use std::sync::LazyLock;

use axum::body::Body;
use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("../../assets/capful.css");
const SCRIPT: &str = include_str!("../../assets/capful.js");
const WORKER: &str = include_str!("../../assets/worker.js");
const MANIFEST: &str = include_str!("../../assets/capful.webmanifest");
const ICON: &str = include_str!("../../assets/icon.svg");

/// The icon drawn in points, for phones that take no drawing: by name. The last two fill the whole
/// square, for phones that cut it to a shape of their own.
const DRAWN: [(&str, &[u8]); 4] = [
    ("icon-192.png", include_bytes!("../../assets/icon-192.png")),
    ("icon-512.png", include_bytes!("../../assets/icon-512.png")),
    ("icon-maskable.png", include_bytes!("../../assets/icon-maskable.png")),
    ("icon-touch.png", include_bytes!("../../assets/icon-touch.png")),
];

/// Where style and script are.
#[derive(Debug)]
pub(crate) struct Assets {
    /// The stylesheet.
    pub style: String,
    /// The script.
    pub script: String,
}

static ASSETS: LazyLock<Assets> = LazyLock::new(|| Assets {
    style: format!("/assets/{}.css", mark(STYLE)),
    script: format!("/assets/{}.js", mark(SCRIPT)),
});

/// Where style and script are.
pub(crate) fn assets() -> &'static Assets {
    &ASSETS
}

/// A short name of what a text holds.
fn mark(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

/// `GET /assets/{name}`: style, script and icon.
pub(crate) async fn asset(Path(name): Path<String>) -> Response {
    let for_ever = "public, max-age=31536000, immutable";
    let path = format!("/assets/{name}");
    let assets = assets();
    if path == assets.style {
        return found("text/css; charset=utf-8", for_ever, STYLE.to_owned());
    }
    if path == assets.script {
        return found("text/javascript; charset=utf-8", for_ever, SCRIPT.to_owned());
    }
    let a_day = "public, max-age=86400";
    if name == "icon.svg" {
        return found("image/svg+xml", a_day, ICON.to_owned());
    }
    match DRAWN.iter().find(|(own, _)| *own == name) {
        Some((_, points)) => found("image/png", a_day, *points),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

/// `GET /worker.js`: answers for the service where there is no signal. It names what it keeps.
pub(crate) async fn worker() -> Response {
    let assets = assets();
    let text = WORKER.replace("{{style}}", &assets.style).replace("{{script}}", &assets.script);
    found("text/javascript; charset=utf-8", "no-cache", text)
}

/// `GET /capful.webmanifest`
pub(crate) async fn manifest() -> Response {
    found("application/manifest+json", "public, max-age=3600", MANIFEST.to_owned())
}

fn found(kind: &'static str, keep: &'static str, body: impl Into<Body>) -> Response {
    let body = body.into();
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, keep)], body).into_response()
}
