//! People who are signed in and use the pages, each with a cookie.

use capful_store::{By, NewPerson, NewSession, Role};
use chrono::TimeDelta;
use reqwest::{Client, Response, StatusCode};
use serde_json::Value;
use uuid::Uuid;

use super::{TestShop, monday};

/// Somebody before the pages.
pub struct Visitor {
    base: String,
    cookie: String,
    client: Client,
}

/// What a page or a form answers.
#[derive(Debug)]
pub struct Shown {
    pub status: StatusCode,
    /// Where it leads.
    pub to: String,
    pub html: String,
}

impl TestShop {
    /// Somebody of the shop who is signed in.
    pub async fn signed_in(&self, role: Role) -> Visitor {
        let (name, text) = (format!("{role:?}"), Uuid::now_v7().to_string());
        let sign_in = format!("{name}-{text}");
        let password_hash = "nobody signs in with this";
        let new =
            NewPerson { shop: self.shop, sign_in: &sign_in, name: &name, role, password_hash };
        let person = self.store.add_person(&new, monday(), By::Nobody).await.unwrap().id;
        let expires_at = monday() + TimeDelta::days(30);
        let session = NewSession { shop: self.shop, person, text: &text, expires_at };
        self.store.add_session(&session, monday()).await.unwrap();
        Visitor {
            base: self.base.clone(),
            cookie: format!("capful_session={text}"),
            client: super::client(),
        }
    }
}

impl Visitor {
    /// Opens a page.
    pub async fn get(&self, path: &str) -> Shown {
        let request = self.client.get(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        shown(request.send().await.unwrap()).await
    }

    /// What a page shows where all is well.
    pub async fn sees(&self, path: &str) -> String {
        let shown = self.get(path).await;
        assert_eq!(shown.status, StatusCode::OK, "{path}: {}", shown.html);
        shown.html
    }

    /// Sends a form once.
    pub async fn sends(&self, path: &str, fields: &[(&str, &str)]) -> Shown {
        self.sends_as(&Uuid::now_v7().to_string(), path, fields).await
    }

    /// Sends a form under a key.
    pub async fn sends_as(&self, key: &str, path: &str, fields: &[(&str, &str)]) -> Shown {
        let session: Value = serde_json::from_str(&self.sees("/session").await).unwrap();
        let csrf = session["csrf"].as_str().unwrap();
        let own = [("csrf", csrf), ("key", key)];
        let all = own.iter().chain(fields);
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(all).finish();
        let request = self.client.post(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        let kind = "application/x-www-form-urlencoded";
        shown(request.header("content-type", kind).body(body).send().await.unwrap()).await
    }

    /// Sends a form with a file.
    pub async fn uploads(&self, path: &str, name: &str, text: &[u8]) -> Shown {
        let session: Value = serde_json::from_str(&self.sees("/session").await).unwrap();
        let csrf = session["csrf"].as_str().unwrap();
        let key = Uuid::now_v7().to_string();
        let mut body = Vec::new();
        for (field, value) in [("csrf", csrf), ("key", &key)] {
            let head = "--gull\r\nContent-Disposition: form-data; name=";
            body.extend(format!("{head}\"{field}\"\r\n\r\n{value}\r\n").into_bytes());
        }
        let head = "--gull\r\nContent-Disposition: form-data; name=\"files\"; filename=";
        body.extend(format!("{head}\"{name}\"\r\n\r\n").into_bytes());
        body.extend(text);
        body.extend(b"\r\n--gull--\r\n");
        let request = self.client.post(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        let kind = "multipart/form-data; boundary=gull";
        shown(request.header("content-type", kind).body(body).send().await.unwrap()).await
    }

    /// The bytes of something to download.
    pub async fn downloads(&self, path: &str) -> Vec<u8> {
        let request = self.client.get(format!("{}{path}", self.base));
        let answer = request.header("cookie", &self.cookie).send().await.unwrap();
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        answer.bytes().await.unwrap().to_vec()
    }

    /// What a form is answered that is not taken.
    pub async fn is_refused(&self, path: &str, fields: &[(&str, &str)]) -> String {
        let shown = self.sends(path, fields).await;
        assert!(shown.status.is_client_error(), "{path}: {}: {}", shown.status, shown.html);
        shown.html
    }

    /// Sends a form that is taken; gives where it leads, without what was done.
    pub async fn leads(&self, path: &str, fields: &[(&str, &str)]) -> String {
        let shown = self.sends(path, fields).await;
        assert_eq!(shown.status, StatusCode::SEE_OTHER, "{path}: {}", shown.html);
        shown.to.split('?').next().unwrap().to_owned()
    }

    /// The bytes that go over the wire for a page, packed as browsers ask for it.
    pub async fn weighs(&self, path: &str) -> usize {
        let request = self.client.get(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        let answer = request.header("accept-encoding", "gzip").send().await.unwrap();
        assert_eq!(answer.headers()["content-encoding"], "gzip", "{path}");
        answer.bytes().await.unwrap().len()
    }

    /// Sends a form that is taken, and opens the page that it leads to.
    pub async fn does(&self, path: &str, fields: &[(&str, &str)]) -> String {
        let shown = self.sends(path, fields).await;
        assert_eq!(shown.status, StatusCode::SEE_OTHER, "{path}: {}", shown.html);
        self.sees(&shown.to).await
    }
}

async fn shown(answer: Response) -> Shown {
    let status = answer.status();
    let to = answer.headers().get("location").map(|to| to.to_str().unwrap().to_owned());
    Shown { status, to: to.unwrap_or_default(), html: answer.text().await.unwrap() }
}

/// What stands behind this, up to the next quote.
pub fn value(html: &str, before: &str) -> String {
    let rest = html.split(before).nth(1).unwrap_or_else(|| panic!("no {before} in {html}"));
    rest.split('"').next().unwrap().to_owned()
}
