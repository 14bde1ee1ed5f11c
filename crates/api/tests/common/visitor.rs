//! People who look at the pages, with a session in a cookie.

use capful_store::{NewPerson, NewSession, Role};
use chrono::TimeDelta;
use reqwest::{Client, Response, StatusCode, redirect};
use uuid::Uuid;

use super::{TestShop, monday};

/// Somebody who is signed in.
pub struct Visitor {
    base: String,
    cookie: String,
    client: Client,
}

impl TestShop {
    /// Somebody of the shop, signed in.
    pub async fn visiting(&self, role: Role) -> Visitor {
        let (shop, now) = (self.shop, monday());
        let sign_in = format!("{}-{}", role.word(), Uuid::now_v7());
        let new = NewPerson { shop, sign_in: &sign_in, name: "Ash", role, password_hash: "none" };
        let person = self.store.add_person(&new, now).await.unwrap().id;
        let (text, expires_at) = (format!("session of {sign_in}"), now + TimeDelta::days(30));
        let text = text.replace(' ', "-");
        let new = NewSession { shop, person, text: &text, expires_at };
        self.store.add_session(&new, now).await.unwrap();
        let client = Client::builder().redirect(redirect::Policy::none()).build().unwrap();
        Visitor { base: self.base.clone(), cookie: format!("capful_session={text}"), client }
    }
}

impl Visitor {
    /// A page, whatever its status.
    pub async fn page(&self, path: &str) -> (StatusCode, String) {
        let request = self.client.get(format!("{}{path}", self.base));
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        read(request.send().await.unwrap()).await
    }

    /// A page where all is well.
    pub async fn sees(&self, path: &str) -> String {
        let (status, text) = self.page(path).await;
        assert_eq!(status, StatusCode::OK, "{path}: {text}");
        text
    }

    /// Sends a form of a page with these fields beside those that it carries unseen.
    pub async fn sends(&self, page: &str, path: &str, fields: &[(&str, &str)]) -> Response {
        let text = self.sees(page).await;
        self.sends_of(&text, path, fields).await
    }

    /// The same of a page that was seen before.
    pub async fn sends_of(&self, text: &str, path: &str, fields: &[(&str, &str)]) -> Response {
        let of = |name: &str| {
            let mark = format!("name=\"{name}\" value=\"");
            let rest = text.split(&mark).nth(1).unwrap_or_else(|| panic!("no {name}: {text}"));
            rest.split('"').next().unwrap().to_owned()
        };
        let mut body = vec![("csrf".to_owned(), of("csrf")), ("key".to_owned(), of("key"))];
        let own = fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned()));
        body.extend(own);
        let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(body).finish();
        let request = self.client.post(format!("{}{path}", self.base)).body(body);
        let request = request.header("cookie", &self.cookie).header("accept", "text/html");
        let request = request.header("content-type", "application/x-www-form-urlencoded");
        request.send().await.unwrap()
    }

    /// What a form is answered where it is not done: a status and a page.
    pub async fn is_refused(&self, page: &str, path: &str, fields: &[(&str, &str)]) -> String {
        let (status, text) = read(self.sends(page, path, fields).await).await;
        assert!(status.is_client_error(), "{status}: {text}");
        text
    }

    /// Where a form leads once it was done.
    pub async fn does(&self, page: &str, path: &str, fields: &[(&str, &str)]) -> String {
        led(self.sends(page, path, fields).await).await
    }
}

/// Where an answer leads, without what was done.
pub async fn led(answer: Response) -> String {
    let place = answer.headers().get("location").map(|to| to.to_str().unwrap().to_owned());
    let (status, text) = read(answer).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{text}");
    place.unwrap().split('?').next().unwrap().to_owned()
}

/// The status of an answer, and what it says.
pub async fn read(answer: Response) -> (StatusCode, String) {
    (answer.status(), answer.text().await.unwrap())
}
