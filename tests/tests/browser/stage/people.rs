//! People: who signs in to a shop, and that they do.

use capful_store::{By, NewPerson, Role};

use super::{Browser, Look, Shop, Stage};

/// Everybody's password in a story.
pub const PASSWORD: &str = "a towel for every panel";

impl Shop {
    /// Adds somebody who can sign in, where they are not there yet.
    pub async fn person(&self, sign_in: &str, role: Role) {
        if self.store.signing_in(sign_in).await.unwrap().is_some() {
            return;
        }
        let password_hash = &capful_api::password_hash("password", PASSWORD).await.unwrap();
        let (shop, name) = (self.id(), sign_in);
        let new = NewPerson { shop, sign_in, name, role, password_hash };
        self.store.add_person(&new, self.now(), By::Nobody).await.unwrap();
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

impl Stage {
    /// The owner, signed in.
    pub async fn signed_in(&self, shop: &Shop, look: Look) -> Browser {
        self.signed_in_as(Role::Owner, shop, look).await
    }

    /// Somebody of a role, signed in.
    pub async fn signed_in_as(&self, role: Role, shop: &Shop, look: Look) -> Browser {
        shop.person(role.word(), role).await;
        let browser = self.before(shop, look).await;
        browser.signs_in(role.word()).await;
        browser
    }
}
