//! What a phone needs to keep the service on its home screen.

#![allow(clippy::unwrap_used)]

mod common;

use common::TestShop;
use serde_json::Value;

/// Width and height of a PNG: after its signature and the head of its first chunk, the two come as
/// big-endian numbers of four bytes (ISO/IEC 15948).
fn size(png: &[u8]) -> String {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    format!("{}x{}", number(16), number(20))
}

#[tokio::test]
async fn each_icon_is_there_in_the_size_that_is_told() {
    let shop = TestShop::open().await;
    let get = async |path: &str| {
        let answer = common::client().get(format!("{}{path}", shop.base)).send().await.unwrap();
        assert_eq!(answer.status(), 200, "{path}");
        let kind = answer.headers()["content-type"].to_str().unwrap().to_owned();
        (kind, answer.bytes().await.unwrap())
    };
    let (kind, manifest) = get("/capful.webmanifest").await;
    assert_eq!(kind, "application/manifest+json");
    let manifest: Value = serde_json::from_slice(&manifest).unwrap();
    let mut told = Vec::new();
    for icon in manifest["icons"].as_array().unwrap() {
        let text = |name: &str| icon[name].as_str().unwrap();
        let (kind, bytes) = get(text("src")).await;
        assert_eq!(kind, text("type"));
        if kind == "image/png" {
            assert_eq!(size(&bytes), text("sizes"), "{}", text("src"));
        }
        told.push((text("sizes").to_owned(), text("purpose").to_owned()));
    }
    // The sizes that Chromium asks for, and one that may be cut to any shape.
    for (size, purpose) in [("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")] {
        assert!(told.contains(&(size.to_owned(), purpose.to_owned())), "{told:?}");
    }
    assert_eq!(size(&get("/assets/icon-touch.png").await.1), "180x180");
}
