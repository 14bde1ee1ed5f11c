//! People of a shop, who sign in as they would.

use capful_store::{NewPerson, Role};

use super::{Browser, Shop};

/// What everybody here signs in with.
const PASSWORD: &str = "gulls at the slipway";

impl Browser {
    /// Signs in as the owner, or as a helper, of a shop that gets one more of them.
    pub async fn signed_in(&self, shop: &Shop, owner: bool) {
        let role = if owner { Role::Owner } else { Role::Helper };
        let sign_in = format!("{}-{}", role.word(), shop.store.new_uuid(shop.now()));
        let password_hash = capful_api::password_hash("password", PASSWORD).await.unwrap();
        let (shop_id, name) = (shop.id(), if owner { "Ash" } else { "Rowan" });
        let new = NewPerson {
            shop: shop_id,
            sign_in: &sign_in,
            name,
            role,
            password_hash: &password_hash,
        };
        shop.store.add_person(&new, shop.now()).await.unwrap();
        self.open("/sign-in").await;
        self.fill("Sign-in name", &sign_in).await;
        self.fill("Password", PASSWORD).await;
        self.tap("Sign in").await;
        self.sees(name).await;
    }
}
