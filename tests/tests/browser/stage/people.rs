//! People who sign in before a story goes on.

use capful_store::{NewPerson, Role};

use super::{Browser, Look, Shop, Stage};

/// What everybody in a story signs in with.
const PASSWORD: &str = "a gull on every post";

impl Shop {
    /// Makes somebody who signs in under their role.
    async fn somebody(&self, role: Role) -> String {
        let sign_in = format!("{role:?}").to_lowercase();
        let hash = capful_api::password_hash("password", PASSWORD).await.unwrap();
        let id = self.id();
        let name = format!("{role:?}");
        let new =
            NewPerson { shop: id, sign_in: &sign_in, name: &name, role, password_hash: &hash };
        if self.store.signing_in(&sign_in).await.unwrap().is_none() {
            self.store.add_person(&new, self.now()).await.unwrap();
        }
        sign_in
    }
}

impl Stage {
    /// The owner, signed in.
    pub async fn signed_in(&self, shop: &Shop, look: Look) -> Browser {
        self.signed_in_as(Role::Owner, shop, look).await
    }

    /// Somebody of a role, signed in.
    pub async fn signed_in_as(&self, role: Role, shop: &Shop, look: Look) -> Browser {
        let sign_in = shop.somebody(role).await;
        let browser = self.before(shop, look).await;
        browser.open("/sign-in").await;
        browser.fill("Sign-in name", &sign_in).await;
        browser.fill("Password", PASSWORD).await;
        browser.tap("Sign in").await;
        browser.is_at("/").await;
        browser
    }
}
