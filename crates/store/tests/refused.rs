//! Wrong requests change nothing, and say what would be right.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Count, Opening, OrderStatus, Pour, Receipt};
use capful_domain::{Amount, Job, JobStatus, Money, NamedRatio, Offer, Product, SheetRow, Unit};
use capful_store::{By, Change, NewToken, Scope, StoreError};
use chrono::Duration;
use common::{
    Fresh, TestShop, container, count, id, job, ml, noon, opening, order, pour, ratio, receipt,
};
use rust_decimal::Decimal;

on_both!(
    wrong_pours_and_receipts_are_told,
    slips_at_the_shelf_are_told,
    wrong_jobs_and_orders_are_told,
    wrong_setting_up_is_told,
    tokens_are_known_by_their_hash
);

/// A shop with two products, a receipt and a booked job.
async fn set_up(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.product("wax").await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 1)])).await;
    shop.done(Change::Book(job("j1", 5))).await;
    shop
}

/// Each change is refused with what would be right.
async fn each_is_refused<const N: usize>(shop: &TestShop, wrong: [(Change, &str); N]) {
    for (change, right) in wrong {
        let shown = format!("{change:?}");
        let text = shop.refused(change).await;
        assert!(text.contains(right), "{shown}\nsaid: {text}\nnot: {right}");
    }
}

fn soap() -> Pour {
    pour("p1", noon(3), "soap", 10)
}

fn one_foot() -> Amount {
    Amount { number: Decimal::ONE, unit: Unit::Ft }
}

async fn wrong_pours_and_receipts_are_told(fresh: Fresh) {
    let shop = set_up(&fresh).await;
    let one = |pour| Change::Pour(vec![pour]);
    let take_in = |receipt: Receipt| Change::Receive(vec![receipt]);
    let from_nobody = Receipt { supplier: Some(id("nobody")), ..receipt("r2", 2, "soap", 1) };
    let of_no_order = Receipt { order: Some(id("b9")), ..receipt("r2", 2, "soap", 1) };
    let wrong = [
        (one(pour("p1", noon(3), "none", 1)), "no product `none`"),
        (one(Pour { job: Some(id("j9")), ..soap() }), "no job `j9`"),
        (one(Pour { container: Some(container("r9/1")), ..soap() }), "no container `r9/1`"),
        (one(pour("p1", noon(3), "soap", -1)), "nothing or more"),
        (one(Pour { amount: one_foot(), ..soap() }), "a quantity in mL"),
        (Change::Pour(vec![soap(), soap()]), "pour `p1` is there already"),
        (Change::Pour(vec![soap(), pour("p2", noon(3), "none", 1)]), "no product `none`"),
        (take_in(receipt("r1", 2, "soap", 1)), "receipt `r1` is there already"),
        (take_in(receipt("r2", 2, "soap", 0)), "containers: from 1 to 10000"),
        (take_in(from_nobody), "no supplier `nobody`"),
        (take_in(of_no_order), "no order `b9`"),
    ];
    each_is_refused(&shop, wrong).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000"]);
    shop.done(one(Pour { amount: ml(0), ..soap() })).await;
}

/// What cannot be so is sent back to who said it.
async fn slips_at_the_shelf_are_told(fresh: Fresh) {
    let shop = set_up(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r2", 2, "soap", 2)])).await;
    shop.done(Change::Open(opening("o1", noon(3), "soap"))).await;
    let all = pour("p1", noon(3), "soap", 1000);
    shop.done(Change::Pour(vec![Pour { container: Some(container("r1/1")), ..all }])).await;
    let named = |id: &str| Some(container(id));
    let again = Opening { container: named("r1/1"), ..opening("o2", noon(4), "soap") };
    let count = count("c1", noon(4), "soap", 10);
    let weighed = |gross: i64| Count { amount: None, gross_g: Some(gross.into()), ..count.clone() };
    let one_sealed = Count { sealed: Some(2), container: named("r2/1"), ..count.clone() };
    let wrong = [
        (Change::Open(again), "a sealed one, or none for the next: r1/1 is used up"),
        (Change::Count(weighed(500)), "name the container that was weighed: 2 of it"),
        (
            Change::Count(Count {
                container: named("r2/1"),
                amount: Some(ml(1200)),
                ..count.clone()
            }),
            "a container of it holds 1000 mL at most",
        ),
        (
            Change::Count(Count { amount: Some(ml(9_999_999)), ..count.clone() }),
            "1000 containers more",
        ),
        (Change::Count(one_sealed), "`sealed` is 0 or 1"),
    ];
    each_is_refused(&shop, wrong).await;
}

async fn wrong_jobs_and_orders_are_told(fresh: Fresh) {
    let shop = set_up(&fresh).await;
    let day_before = noon(1) - Duration::days(1);
    let wrong = [
        (Change::Book(job("j1", 6)), "job `j1` is there already"),
        (Change::Book(Job { status: JobStatus::Done, ..job("j2", 6) }), "status: booked"),
        (Change::Book(Job { job_types: vec![], ..job("j2", 6) }), "job_types: at least one"),
        (Change::Book(Job { job_types: vec![id("magic")], ..job("j2", 6) }), "no job type `magic`"),
        (Change::ChangeJob(job("j9", 6)), "no job `j9`"),
        (Change::StartJob { job: id("j1"), at: day_before }, "not before it was booked"),
        (order("b1", 2, "none", 1), "no product `none`"),
        (order("b1", 2, "soap", 0), "at least one pack"),
        (Change::SetOrder { order: id("b9"), status: OrderStatus::Received }, "no order `b9`"),
    ];
    each_is_refused(&shop, wrong).await;
}

async fn wrong_setting_up_is_told(fresh: Fresh) {
    let shop = set_up(&fresh).await;
    let offer = Offer {
        supplier: id("nobody"),
        product: id("soap"),
        pack: 1,
        price: Money::ZERO,
        code: None,
        minimum_packs: 1,
        preferred: false,
    };
    let sheet = SheetRow {
        job_type: id("wash"),
        product: id("soap"),
        amount: one_foot(),
        ratio: None,
        share_of_jobs: None,
        log_sd: None,
    };
    let label = NamedRatio { product: id("none"), label: "heavy".to_owned(), ratio: ratio(3) };
    let litres = Amount { number: Decimal::ONE, unit: Unit::L };
    let in_litres = Product::new(id("soap"), "Foaming soap", litres);
    let wrong = [
        (Change::Product(Box::new(in_litres)), "unit: mL, as its receipts say"),
        (Change::Offer(offer), "no supplier `nobody`"),
        (Change::SheetRow(sheet), "a quantity in mL"),
        (Change::Ratio(label), "no product `none`"),
    ];
    each_is_refused(&shop, wrong).await;
}

async fn tokens_are_known_by_their_hash(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let expires_at = Some(noon(20));
    let (own, text, label) = (shop.shop, "a long secret", "the phone in the bay");
    let new = NewToken { shop: own, text, scope: Scope::Shelf, label, expires_at };
    let made = shop.store.add_token(&new, noon(2), By::Nobody).await.unwrap();
    let (found, _) = shop.store.token("a long secret").await.unwrap().unwrap();
    assert_eq!(found, made);
    assert!(found.is_good(noon(19)) && !found.is_good(noon(20)));
    assert_eq!(shop.store.token("another").await.unwrap(), None);
    shop.store.revoke_token(shop.shop, made.id, noon(3), By::Nobody).await.unwrap();
    shop.store.revoke_token(shop.shop, made.id, noon(5), By::Nobody).await.unwrap();
    let (revoked, _) = shop.store.token("a long secret").await.unwrap().unwrap();
    assert_eq!(revoked.revoked_at, Some(noon(3)), "it ended the first time");
    assert!(!shop.store.token("a long secret").await.unwrap().unwrap().0.is_good(noon(4)));
    assert_eq!(shop.store.tokens(shop.shop).await.unwrap().len(), 1);
    let of_two_lines = NewToken { text: "other", label: "the phone\nin the bay", ..new };
    let refused = shop.store.add_token(&of_two_lines, noon(2), By::Nobody).await.unwrap_err();
    assert!(refused.to_string().starts_with("label: a text of one line"), "{refused}");
    let unknown = shop.store.revoke_token(shop.shop, own, noon(3), By::Nobody).await.unwrap_err();
    assert!(matches!(unknown, StoreError::NotFound { what: "token", .. }));
}
