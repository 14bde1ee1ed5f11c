//! A service behind a proxy, known by its public address; and what every answer tells a browser
//! about itself.

#![allow(clippy::unwrap_used)]

mod common;

use capful_api::Settings;
use capful_store::{By, NewPerson, Role};
use common::{TestShop, two_gulls};
use reqwest::{RequestBuilder, Response, StatusCode};

const PASSWORD: &str = "a towel for every panel";
const PUBLIC: &str = "https://shelf.example:8443";

async fn shop_at(public_url: Option<&str>) -> TestShop {
    let public_url = public_url.map(|text| text.parse().unwrap());
    let settings = Settings { public_url, ..Settings::default() };
    let shop = TestShop::open_with(two_gulls(), settings).await;
    let password_hash = &capful_api::password_hash("password", PASSWORD).await.unwrap();
    let (sign_in, role) = ("ines", Role::Owner);
    let new = NewPerson { shop: shop.shop, sign_in, name: sign_in, role, password_hash };
    shop.store.add_person(&new, common::monday(), By::Nobody).await.unwrap();
    shop
}

/// A form as a proxy passes it on that writes the service's own address into `Host`.
fn through_a_proxy(shop: &TestShop, path: &str, form: &[(&str, &str)]) -> RequestBuilder {
    let client = common::client();
    let body = serde_urlencoded::to_string(form).unwrap();
    let request = client.post(format!("{}{path}", shop.base)).body(body);
    request.header("content-type", "application/x-www-form-urlencoded")
}

const SIGN_IN: [(&str, &str); 2] = [("sign_in", "ines"), ("password", PASSWORD)];

async fn status(request: RequestBuilder) -> StatusCode {
    request.send().await.unwrap().status()
}

#[tokio::test]
async fn a_form_of_the_public_address_is_taken_whatever_the_proxy_makes_of_the_host() {
    let shop = shop_at(Some(PUBLIC)).await;
    let sign_in = || through_a_proxy(&shop, "/sign-in", &SIGN_IN);
    let with_site = sign_in().header("origin", PUBLIC).header("sec-fetch-site", "same-origin");
    assert_eq!(status(with_site).await, StatusCode::SEE_OTHER);
    let older = sign_in().header("origin", PUBLIC);
    assert_eq!(status(older).await, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_form_of_another_site_is_refused() {
    let shop = shop_at(Some(PUBLIC)).await;
    let sign_in = || through_a_proxy(&shop, "/sign-in", &SIGN_IN);
    for origin in ["https://shelf.example", "http://shelf.example:8443", "https://other", "null"] {
        assert_eq!(status(sign_in().header("origin", origin)).await, StatusCode::FORBIDDEN);
    }
    let other = sign_in().header("origin", "https://other").header("sec-fetch-site", "cross-site");
    let answer = other.header("accept", "text/html").send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::FORBIDDEN);
    assert!(answer.headers().get("set-cookie").is_none());
    assert!(answer.text().await.unwrap().contains("sent from another site"));
}

/// Signs in with a browser that reaches the service at a public address.
async fn signed_in(shop: &TestShop) -> Response {
    through_a_proxy(shop, "/sign-in", &SIGN_IN).send().await.unwrap()
}

#[tokio::test]
async fn over_https_the_cookie_is_this_hosts_alone_and_goes_encrypted() {
    let shop = shop_at(Some(PUBLIC)).await;
    let answer = signed_in(&shop).await;
    let cookie = answer.headers()["set-cookie"].to_str().unwrap().to_owned();
    assert!(cookie.starts_with("__Host-capful_session="), "{cookie}");
    let parts: Vec<&str> = cookie.split("; ").collect();
    assert!(["Secure", "HttpOnly", "Path=/", "SameSite=Lax"].iter().all(|own| parts.contains(own)));
    assert!(!cookie.contains("Domain"), "{cookie}");
    assert_eq!(answer.headers()["strict-transport-security"], "max-age=31536000");
    let page = |cookie: &str| {
        let request = common::client().get(format!("{}/more", shop.base));
        request.header("cookie", cookie).header("accept", "application/json")
    };
    assert_eq!(status(page(parts[0])).await, StatusCode::OK);
    // The name that any page of the domain could have set.
    let plain = parts[0].replacen("__Host-", "", 1);
    assert_eq!(status(page(&plain)).await, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn without_https_nothing_speaks_of_it() {
    for public in [None, Some("http://shelf.example")] {
        let answer = signed_in(&shop_at(public).await).await;
        let cookie = answer.headers()["set-cookie"].to_str().unwrap();
        assert!(cookie.starts_with("capful_session=") && !cookie.contains("Secure"), "{cookie}");
        assert!(answer.headers().get("strict-transport-security").is_none());
    }
}

#[tokio::test]
async fn labels_lead_to_the_public_address() {
    let shop = shop_at(Some(PUBLIC)).await;
    let answer = signed_in(&shop).await;
    let cookie = answer.headers()["set-cookie"].to_str().unwrap().split(';').next().unwrap();
    let page = common::client().get(format!("{}/containers/R-4/1", shop.base));
    let html = page.header("cookie", cookie).send().await.unwrap().text().await.unwrap();
    assert!(html.contains(&format!(">{PUBLIC}/containers/R-4/1<")), "{html}");
}

/// Headers that every answer has, and what stands in them.
const TOLD: [(&str, &str); 7] = [
    ("content-security-policy", "frame-ancestors 'none'"),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=()"),
];

#[tokio::test]
async fn every_answer_says_what_a_browser_may_do_with_it() {
    let shop = shop_at(None).await;
    let (reader, signed) = (shop.reader().await, signed_in(&shop).await);
    let cookie = signed.headers()["set-cookie"].to_str().unwrap().split(';').next().unwrap();
    let product = shop.facts.products[0].id.as_str();
    let client = common::client();
    for (path, expected) in [
        ("/", 200),
        ("/sign-in", 303),
        ("/nothing-is-here", 404),
        (&*format!("/shelf/{product}/demand.svg"), 200),
        ("/assets/icon.svg", 200),
        ("/worker.js", 200),
        ("/capful.webmanifest", 200),
        ("/session", 200),
        ("/undo/x", 405),
        ("/healthz", 200),
        ("/metrics", 200),
        ("/api/docs", 303),
        ("/api/docs/", 200),
        ("/api/docs/swagger-ui-bundle.js", 200),
        ("/api/v1/openapi.json", 200),
        ("/api/v1/plan", 200),
        ("/api/v1/plan?seed=x", 400),
        ("/api/v1/jobs/nobodys", 404),
        ("/api/v1/nowhere", 404),
        ("/setup/folder/shop.zip", 200),
    ] {
        let request = client.get(format!("{}{path}", shop.base)).header("cookie", cookie);
        let request = request.header("accept", "text/html");
        let is_for_programs = path.starts_with("/api/v1") || path == "/metrics";
        let request =
            if is_for_programs { reader.ask(reqwest::Method::GET, path) } else { request };
        let answer = request.send().await.unwrap();
        assert_eq!(answer.status().as_u16(), expected, "{path}");
        for (name, part) in TOLD {
            let values: Vec<_> = answer.headers().get_all(name).iter().collect();
            assert_eq!(values.len(), 1, "{path}: {name}: {values:?}");
            assert!(values[0].to_str().unwrap().contains(part), "{path}: {name}: {values:?}");
        }
    }
}

#[tokio::test]
async fn no_page_and_no_picture_lets_a_style_or_a_script_stand_in_it() {
    let shop = shop_at(None).await;
    let owner = shop.signed_in(Role::Owner).await;
    let product = shop.facts.products[0].id.as_str();
    for path in ["/", "/shelf", "/order", "/usage", "/setup/shop"] {
        let html = owner.sees(path).await;
        for inline in ["<style", " style=", "<script>", " onclick=", "javascript:"] {
            assert!(!html.contains(inline), "{path}: {inline}");
        }
    }
    let answer = common::client().get(format!("{}/shelf/{product}/demand.svg", shop.base));
    let signed = signed_in(&shop).await;
    let cookie = signed.headers()["set-cookie"].to_str().unwrap().split(';').next().unwrap();
    let answer = answer.header("cookie", cookie).send().await.unwrap();
    let policy = answer.headers()["content-security-policy"].to_str().unwrap().to_owned();
    assert!(!policy.contains("unsafe") && policy.contains("style-src 'sha256-"), "{policy}");
}
