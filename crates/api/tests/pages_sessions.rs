//! Sessions of people: who gets in, what a form has to carry, and how it ends.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::{By, NewPerson, Role};
use chrono::TimeDelta;
use common::TestShop;
use reqwest::{Client, Response, StatusCode};

const PASSWORD: &str = "a towel for every panel";

/// A browser without a script: it follows nothing by itself, so that each answer is seen.
struct Browser {
    base: String,
    client: Client,
    cookie: String,
}

impl Browser {
    async fn signed_in(shop: &TestShop, sign_in: &str) -> Self {
        let client = common::client();
        let mut browser = Self { base: shop.base.clone(), client, cookie: String::new() };
        let form = [("sign_in", sign_in), ("password", PASSWORD), ("then", "/jobs/J-1")];
        let answer = browser.post("/sign-in", &form).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER);
        assert_eq!(answer.headers()["location"], "/jobs/J-1");
        let cookie = answer.headers()["set-cookie"].to_str().unwrap().to_owned();
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Lax"), "{cookie}");
        browser.cookie = cookie.split(';').next().unwrap().to_owned();
        browser
    }

    async fn get(&self, path: &str) -> Response {
        let request = self.client.get(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        request.send().await.unwrap()
    }

    async fn post(&self, path: &str, form: &[(&str, &str)]) -> Response {
        let body = serde_urlencoded::to_string(form).unwrap();
        let request = self.client.post(format!("{}{path}", self.base)).body(body);
        let request = request.header("content-type", "application/x-www-form-urlencoded");
        request.header("cookie", &self.cookie).header("accept", "text/html").send().await.unwrap()
    }

    /// What a form of a page carries.
    async fn hidden(&self, path: &str) -> (String, String) {
        let page = self.get(path).await.text().await.unwrap();
        let value = |name: &str| {
            let rest = page.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap();
            rest.split('"').next().unwrap().to_owned()
        };
        (value("csrf"), value("key"))
    }
}

async fn shop_with(sign_in: &str, role: Role) -> TestShop {
    let shop = TestShop::open().await;
    let password_hash = &capful_api::password_hash("password", PASSWORD).await.unwrap();
    let new = NewPerson { shop: shop.shop, sign_in, name: sign_in, role, password_hash };
    shop.store.add_person(&new, common::monday(), By::Nobody).await.unwrap();
    shop
}

/// The first job that is open.
fn open_job(shop: &TestShop) -> String {
    let open = shop.facts.jobs.iter().find(|job| job.status == capful_domain::JobStatus::Booked);
    open.unwrap().id.to_string()
}

#[tokio::test]
async fn who_is_not_signed_in_is_led_there_and_back() {
    let shop = shop_with("ines", Role::Owner).await;
    let client = common::client();
    let asked = client.get(format!("{}/?x=1", shop.base)).header("accept", "text/html");
    let answer = asked.send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::SEE_OTHER);
    assert_eq!(answer.headers()["location"], "/sign-in?then=%2F%3Fx%3D1");
    let told = client.post(format!("{}/sign-out", shop.base)).send().await.unwrap();
    assert_eq!(told.status(), StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn a_page_is_kept_to_itself() {
    let shop = shop_with("ines", Role::Owner).await;
    let ines = Browser::signed_in(&shop, "ines").await;
    let page = ines.get("/").await;
    assert_eq!(page.status(), StatusCode::OK);
    let policy = page.headers()["content-security-policy"].to_str().unwrap();
    assert!(policy.contains("default-src 'self'") && policy.contains("frame-ancestors 'none'"));
    assert_eq!(page.headers()["cache-control"], "no-store");
    assert_eq!(page.headers()["x-content-type-options"], "nosniff");
}

#[tokio::test]
async fn a_form_of_another_session_or_site_changes_nothing() {
    let shop = shop_with("ines", Role::Owner).await;
    let ines = Browser::signed_in(&shop, "ines").await;
    let job = open_job(&shop);
    let path = format!("/jobs/{job}/finish");
    let (csrf, key) = ines.hidden(&path).await;
    let other = ines.post(&path, &[("csrf", "guessed"), ("key", &key)]).await;
    assert_eq!(other.status(), StatusCode::FORBIDDEN);
    let body = serde_urlencoded::to_string([("csrf", &csrf), ("key", &key)]).unwrap();
    let request = ines.client.post(format!("{}{path}", shop.base)).body(body);
    let foreign = request.header("cookie", &ines.cookie).header("origin", "https://other.example");
    assert_eq!(foreign.send().await.unwrap().status(), StatusCode::FORBIDDEN);
    let still = shop.store.get::<capful_domain::Job>(shop.shop, &job).await.unwrap().row;
    assert_eq!(still.status, capful_domain::JobStatus::Booked);
}

#[tokio::test]
async fn a_form_that_is_sent_twice_is_done_once() {
    let shop = shop_with("sam", Role::Helper).await;
    let sam = Browser::signed_in(&shop, "sam").await;
    let path = format!("/jobs/{}/finish", open_job(&shop));
    let (csrf, key) = sam.hidden(&path).await;
    let form = [("csrf", csrf.as_str()), ("key", key.as_str()), ("at", "")];
    let first = sam.post(&path, &form).await;
    assert_eq!(first.status(), StatusCode::SEE_OTHER, "{}", first.text().await.unwrap());
    let second = sam.post(&path, &form).await;
    assert_eq!(second.status(), StatusCode::SEE_OTHER);
    assert_eq!(first.headers()["location"], second.headers()["location"]);
    let deeds = shop.store.deeds(shop.shop, None, 50).await.unwrap();
    let finished = deeds.iter().filter(|deed| deed.what == capful_store::AuditAction::JobFinished);
    assert_eq!(finished.count(), 1);
}

#[tokio::test]
async fn a_session_ends() {
    let shop = shop_with("ines", Role::Owner).await;
    let (one, other) =
        (Browser::signed_in(&shop, "ines").await, Browser::signed_in(&shop, "ines").await);
    let (csrf, key) = one.hidden(&format!("/jobs/{}/finish", open_job(&shop))).await;
    let out = [("csrf", csrf.as_str()), ("key", key.as_str()), ("everywhere", "1")];
    assert_eq!(one.post("/sign-out", &out).await.headers()["location"], "/sign-in");
    assert_eq!(other.get("/").await.status(), StatusCode::SEE_OTHER);
    let third = Browser::signed_in(&shop, "ines").await;
    assert_eq!(third.get("/").await.status(), StatusCode::OK);
    shop.pass(TimeDelta::days(31));
    assert_eq!(third.get("/").await.status(), StatusCode::SEE_OTHER);
}
