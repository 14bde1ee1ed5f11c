//! A label's code is read as a phone's camera reads it, and what it says opens the container.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::Role;
use common::TestShop;

/// Points across one module of a code.
const POINTS: usize = 4;

/// The codes on a page, as drawings of dark runs.
fn codes(html: &str) -> Vec<&str> {
    html.split("<svg class=\"qr\"")
        .skip(1)
        .map(|rest| rest.split("</svg>").next().unwrap())
        .collect()
}

/// What stands between a name and the next quotation mark.
fn attribute<'a>(svg: &'a str, name: &str) -> &'a str {
    let (_, rest) = svg.split_once(&format!(" {name}=\"")).unwrap();
    rest.split('"').next().unwrap()
}

/// What a camera reads of a drawing on white paper.
fn read(svg: &str) -> String {
    let side: usize = attribute(svg, "viewBox").rsplit(' ').next().unwrap().parse().unwrap();
    let mut is_dark = vec![false; side * side];
    for run in attribute(svg, "d").split('M').skip(1) {
        let (from, length) = run.split_once('h').unwrap();
        let (x, y) = from.split_once(' ').unwrap();
        let at = y.parse::<usize>().unwrap() * side + x.parse::<usize>().unwrap();
        is_dark[at..at + length.parse::<usize>().unwrap()].fill(true);
    }
    let points = side * POINTS;
    let grey = |x: usize, y: usize| {
        if is_dark[y / POINTS * side + x / POINTS] { 0 } else { 255 }
    };
    let mut paper = rqrr::PreparedImage::prepare_from_greyscale(points, points, grey);
    let seen = paper.detect_grids();
    assert_eq!(seen.len(), 1, "one code is seen");
    seen[0].decode().unwrap().1
}

#[tokio::test]
async fn each_label_of_a_sheet_leads_to_its_container() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let html = helper.sees("/labels?c=R-4/1&c=R-1/1").await;
    let mut led = Vec::new();
    for code in codes(&html) {
        let address = read(code);
        let path = address.split_once("://").unwrap().1.split_once('/').unwrap().1.to_owned();
        assert!(helper.sees(&format!("/{path}")).await.contains("Container"), "{address}");
        led.push(path);
    }
    led.sort();
    assert_eq!(led, ["containers/R-1/1", "containers/R-4/1"]);
}

#[tokio::test]
async fn the_code_on_a_containers_own_page_says_the_address_beside_it() {
    let shop = TestShop::open().await;
    let html = shop.signed_in(Role::Owner).await.sees("/containers/R-4/1").await;
    let address = read(codes(&html)[0]);
    assert!(address.starts_with("http://127.0.0.1:"), "{address}");
    assert!(html.contains(&format!(">{address}<")), "{address}");
}
