//! Two shops in one database: this one, with a mark in every text of it, and another one.

use std::collections::HashMap;
use std::sync::Arc;

use capful_domain::facts::{Order, OrderLine};
use capful_domain::{Amount, Facts, Id, NamedRatio, Product, Quantity, Ratio, Unit};
use capful_store::{
    Answer, By, Change, MovementFilter, NewPerson, NewSession, NewToken, Role, Scope, Store,
    WriteContext,
};
use chrono::TimeDelta;
use reqwest::Client;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::callers::{Caller, Shows};
use super::common::{TestShop, monday, two_gulls};
use super::requests::OLD_PASSWORD;
use super::table::{Row, Who};

/// What stands in every text of this shop, and in none of the other.
pub const MARK: &str = "LEAKED";

/// Both shops, and what is at the addresses of this one.
pub struct Shops {
    pub here: TestShop,
    there: Uuid,
    /// Ids that are made when the shop is, by the names that `doors.txt` gives them.
    named: HashMap<&'static str, String>,
    client: Client,
}

/// This shop, with its mark in every text.
pub async fn this_shop() -> TestShop {
    TestShop::open_with(marked(two_gulls()), capful_api::Settings::default()).await
}

fn marked(mut facts: Facts) -> Facts {
    let text = |text: &str| format!("{MARK} {text}");
    facts.shop.name = text("Gulls");
    for product in &mut facts.products {
        product.name = text(&product.name);
        product.category = Some(text("bottles"));
        product.hazards = vec![text("hazard")];
        product.protection = vec![text("gloves")];
        product.notes = Some(text("notes"));
    }
    facts.suppliers.iter_mut().for_each(|row| row.name = text(&row.name));
    facts.job_types.iter_mut().for_each(|row| row.name = text(&row.name));
    facts.jobs.iter_mut().for_each(|row| row.vehicle = Some(text(row.id.as_str())));
    facts.ratios.iter_mut().for_each(|row| row.label = text(&row.label));
    facts.order_lines.iter_mut().for_each(|row| row.supplier_code = Some(text("code")));
    let id = |text: &str| Id::parse(text).unwrap();
    // An order of which nothing has come, and that can still be called off.
    facts.orders.push(Order { id: id("O-2"), ..facts.orders[0].clone() });
    facts.order_lines.push(OrderLine { order: id("O-2"), ..facts.order_lines[0].clone() });
    // What an address or a form names is not marked: an answer may repeat it.
    let neat = Ratio::from_water(Decimal::ZERO).unwrap();
    facts.ratios.push(NamedRatio { product: id("coating"), label: "neat".into(), ratio: neat });
    let named = |code: &Option<String>| code.as_deref() == Some("ND-3");
    let others = facts.offers.iter_mut().filter(|offer| !named(&offer.code));
    others.for_each(|offer| offer.code = Some(text("code")));
    let lots = facts.receipts.iter_mut().filter(|row| row.lot.as_deref() != Some("B2231"));
    lots.for_each(|row| row.lot = Some(text("lot")));
    facts
}

/// The other shop: it has one product under the id of one of ours.
fn others(shop: capful_domain::Shop) -> Facts {
    let shop = capful_domain::Shop { name: "The other shop".to_owned(), ..shop };
    let size = Amount { number: Decimal::from(500), unit: Unit::Ml };
    let soap = Product::new(Id::parse("wash").unwrap(), "Their own soap", size);
    Facts { products: vec![soap], ..Facts::new(shop) }
}

impl Shops {
    /// Both shops, this one as it is made first.
    pub async fn open() -> Self {
        Self::of(this_shop().await).await
    }

    /// Both shops, this one being at hand.
    pub async fn of(here: TestShop) -> Self {
        let store = Arc::clone(&here.store);
        let there = store.new_uuid(monday());
        let facts = Box::new(others(two_gulls().shop));
        let change = Change::Import { facts, expected: Vec::new() };
        store.change_plainly(&WriteContext::plainly(there, monday()), &change).await.unwrap();
        let client = crate::common::client();
        let mut shops = Self { here, there, named: HashMap::new(), client };
        shops.named = shops.made().await;
        shops
    }

    pub fn store(&self) -> Arc<Store> {
        Arc::clone(&self.here.store)
    }

    /// A person, their session, a token, a deed and a movement of this shop.
    async fn made(&self) -> HashMap<&'static str, String> {
        let (store, shop) = (self.store(), self.here.shop);
        let person = self.person(shop, Role::Helper, "nobody signs in with this").await;
        let expires_at = monday() + TimeDelta::days(30);
        let session = NewSession { shop, person, text: "a browser", expires_at };
        let session = store.add_session(&session, monday()).await.unwrap().id;
        let label = &format!("{MARK} till");
        let new = NewToken { shop, text: "till", scope: Scope::Read, label, expires_at: None };
        let token = store.add_token(&new, monday(), By::Nobody).await.unwrap().id;
        let helper = self.here.helper().await;
        let pour = serde_json::json!({ "product": "wash", "quantity": 1 });
        let poured = helper.post("/pours", &pour).await;
        let deed = store.deeds(shop, None, 1).await.unwrap().remove(0).id;
        let movement = poured["movements"][0]["id"].as_str().unwrap().to_owned();
        HashMap::from([
            ("<person>", person.to_string()),
            ("<session>", session.to_string()),
            ("<token>", token.to_string()),
            ("<deed>", deed.to_string()),
            ("<movement>", movement),
        ])
    }

    /// The address that a line tries.
    pub fn address(&self, row: &Row) -> String {
        let named = self.named.iter();
        named.fold(row.tried.clone(), |address, (name, id)| address.replace(name, id))
    }

    /// Somebody of this shop.
    pub async fn here(&self, who: Who) -> Caller {
        self.caller(self.here.shop, who).await
    }

    /// Somebody of the other shop.
    pub async fn there(&self, who: Who) -> Caller {
        self.caller(self.there, who).await
    }

    async fn caller(&self, shop: Uuid, who: Who) -> Caller {
        let shows = match who {
            Who::Nobody => Shows::Nothing,
            Who::MadeUp => Shows::Token("let-me-in".to_owned()),
            Who::Read => self.token(shop, Scope::Read, who).await,
            Who::Shelf => self.token(shop, Scope::Shelf, who).await,
            Who::Setup | Who::Revoked | Who::TokenOver => self.token(shop, Scope::Setup, who).await,
            Who::Helper => self.session(shop, Role::Helper, who).await,
            Who::Owner | Who::Ended | Who::SessionOver => {
                self.session(shop, Role::Owner, who).await
            }
        };
        Caller { base: self.here.base.clone(), client: self.client.clone(), shows }
    }

    async fn token(&self, shop: Uuid, scope: Scope, who: Who) -> Shows {
        let text = Uuid::now_v7().to_string();
        let label = if shop == self.there { "theirs".to_owned() } else { format!("{MARK} own") };
        let over = monday() - TimeDelta::seconds(1);
        let expires_at = (who == Who::TokenOver).then_some(over);
        let new = NewToken { shop, text: &text, scope, label: &label, expires_at };
        let token = self.here.store.add_token(&new, monday(), By::Nobody).await.unwrap();
        if who == Who::Revoked {
            let store = &self.here.store;
            store.revoke_token(shop, token.id, monday(), By::Nobody).await.unwrap();
        }
        Shows::Token(text)
    }

    async fn session(&self, shop: Uuid, role: Role, who: Who) -> Shows {
        // The shop keeps an owner when the one who is asked for is ended.
        let others = (who == Who::Ended).then_some("nobody signs in with this");
        if let Some(hash) = others {
            self.person(shop, Role::Owner, hash).await;
        }
        let person = self.person(shop, role, &hash().await).await;
        let text = Uuid::now_v7().to_string();
        let over = who == Who::SessionOver;
        let expires_at = monday() + TimeDelta::days(if over { -1 } else { 30 });
        let session = NewSession { shop, person, text: &text, expires_at };
        self.here.store.add_session(&session, monday()).await.unwrap();
        if who == Who::Ended {
            let asked = WriteContext::plainly(shop, monday());
            let nothing = |_: &_| Answer { status: 200, body: String::new() };
            self.here.store.end_person(person, &asked, nothing).await.unwrap();
        }
        Shows::Session(text)
    }

    async fn person(&self, shop: Uuid, role: Role, password_hash: &str) -> Uuid {
        let name = if shop == self.there { "Theirs".to_owned() } else { format!("{MARK} Ann") };
        let sign_in = format!("{name} {}", Uuid::now_v7());
        let new = NewPerson { shop, sign_in: &sign_in, name: &name, role, password_hash };
        self.here.store.add_person(&new, monday(), By::Nobody).await.unwrap().id
    }
}

/// What the password of those who are signed in is held against, made once.
async fn hash() -> String {
    static HASH: tokio::sync::OnceCell<String> = tokio::sync::OnceCell::const_new();
    let made = || async { capful_api::password_hash("password", OLD_PASSWORD).await.unwrap() };
    HASH.get_or_init(made).await.clone()
}

/// All that a shop has: its folder, its ledger, its people, its tokens, who did what.
pub async fn everything_of(store: &Store, shop: Uuid) -> String {
    let facts = store.facts(shop, None).await.unwrap();
    let files = capful_folder::to_files(&facts).into_iter();
    let files: Vec<_> =
        files.map(|(name, bytes)| (name, String::from_utf8(bytes).unwrap())).collect();
    let movements = store.movements(shop, &MovementFilter::All).await.unwrap();
    let left: Quantity = movements.iter().map(|posted| posted.movement.change).sum();
    let people: Vec<_> = store.people(shop).await.unwrap();
    let tokens: Vec<_> = store.tokens(shop).await.unwrap();
    let deeds: Vec<_> = store.deeds(shop, None, 10_000).await.unwrap();
    format!("{files:#?}\n{movements:#?}\n{left:?}\n{people:#?}\n{tokens:#?}\n{deeds:#?}")
}
