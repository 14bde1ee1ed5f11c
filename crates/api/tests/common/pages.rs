//! Somebody before the pages, with a session and a browser that follows nowhere by itself.

use capful_store::{NewPerson, NewSession, Role};
use chrono::TimeDelta;
use reqwest::redirect::Policy;
use reqwest::{Client, Response};
use uuid::Uuid;

use super::{TestShop, monday};

/// Somebody who is signed in.
pub struct Visitor {
    base: String,
    cookie: String,
    client: Client,
}

/// A page as it came.
pub struct Shown {
    pub status: u16,
    pub text: String,
}

impl TestShop {
    /// Somebody of this role with a session.
    pub async fn looking(&self, role: Role) -> Visitor {
        let sign_in = format!("{}-{}", role.word(), Uuid::now_v7());
        let (name, password_hash) = ("Sam Reed", "none");
        let new = NewPerson { shop: self.shop, sign_in: &sign_in, name, role, password_hash };
        let person = self.store.add_person(&new, monday()).await.unwrap().id;
        let (text, expires_at) = (Uuid::now_v7().to_string(), monday() + TimeDelta::days(30));
        let session = NewSession { shop: self.shop, person, text: &text, expires_at };
        self.store.add_session(&session, monday()).await.unwrap();
        let client = Client::builder().redirect(Policy::none()).build().unwrap();
        let cookie = format!("capful_session={text}");
        Visitor { base: self.base.clone(), cookie, client }
    }
}

impl Visitor {
    /// A page, whatever its status.
    pub async fn open(&self, path: &str) -> Shown {
        let address = format!("{}{path}", self.base);
        let get = self.client.get(address).header("cookie", &self.cookie);
        shown(get.header("accept", "text/html").send().await.unwrap()).await
    }

    /// A page that is there, as text.
    pub async fn sees(&self, path: &str) -> String {
        let page = self.open(path).await;
        assert_eq!(page.status, 200, "{path}: {}", page.text);
        page.text
    }

    /// Sends the form of a page as it stands on `page`, with these fields.
    pub async fn sends(&self, page: &str, to: &str, fields: &[(&str, &str)]) -> Response {
        let text = self.sees(page).await;
        let hidden = |name: &str| value(&text, &format!("name=\"{name}\" value=\""));
        let own = [("csrf", hidden("csrf")), ("key", hidden("key"))];
        let mut body = form_urlencoded::Serializer::new(String::new());
        body.extend_pairs(own).extend_pairs(fields);
        let post = self.client.post(format!("{}{to}", self.base)).header("cookie", &self.cookie);
        let post = post.header("content-type", "application/x-www-form-urlencoded");
        post.header("accept", "text/html").body(body.finish()).send().await.unwrap()
    }

    /// Sends a form that is done, and gives where that leads, without the deed.
    pub async fn does(&self, page: &str, to: &str, fields: &[(&str, &str)]) -> String {
        let answer = self.sends(page, to, fields).await;
        let place = answer.headers().get("location").map(|to| to.to_str().unwrap().to_owned());
        let page = shown(answer).await;
        assert_eq!(page.status, 303, "{to}: {}", page.text);
        let place = place.unwrap();
        place.split("?done=").next().unwrap().to_owned()
    }
}

/// Reads an answer as a page.
pub async fn shown(answer: Response) -> Shown {
    Shown { status: answer.status().as_u16(), text: answer.text().await.unwrap() }
}

/// What stands behind this, up to the next quote.
pub fn value(text: &str, before: &str) -> String {
    let rest = text.split(before).nth(1).unwrap_or_else(|| panic!("no {before} in {text}"));
    rest.split('"').next().unwrap().to_owned()
}
