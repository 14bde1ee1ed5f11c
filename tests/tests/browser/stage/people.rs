//! People: who signs in to a shop, and that they do.

use capful_store::{NewPerson, Role};

use super::{Browser, Shop};

/// Everybody's password in a story.
pub const PASSWORD: &str = "a towel for every panel";

impl Shop {
    /// Adds somebody who can sign in.
    pub async fn person(&self, sign_in: &str, role: Role) {
        let password_hash = &capful_api::password_hash("password", PASSWORD).await.unwrap();
        let (shop, name) = (self.id(), sign_in);
        let new = NewPerson { shop, sign_in, name, role, password_hash };
        self.store.add_person(&new, self.now()).await.unwrap();
    }
}

impl Browser {
    /// Signs in, and stands on the page of today.
    pub async fn signs_in(&self, sign_in: &str) {
        self.open("/sign-in").await;
        self.fill("Sign-in name", sign_in).await;
        self.fill("Password", PASSWORD).await;
        self.tap("Sign in").await;
        self.is_at("/").await;
    }
}
