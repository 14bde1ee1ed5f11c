//! A vehicle's name is erased by the owner, once it was shown where it stands.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::Job;
use capful_store::Role;
use common::people::value;
use common::{TestShop, two_gulls};

#[tokio::test]
async fn the_owner_sees_the_jobs_first_and_then_erases_the_name() {
    let mut facts = two_gulls();
    let job = facts.jobs.last().unwrap().clone();
    let again = capful_domain::Id::parse("J-9").unwrap();
    let vehicle = job.vehicle.as_deref().map(|text| format!(" {} ", text.to_lowercase()));
    facts.jobs.push(Job { id: again, vehicle, ..job.clone() });
    let shop = TestShop::open_with(facts, capful_api::Settings::default()).await;
    let owner = shop.signed_in(Role::Owner).await;
    let (path, words) = (format!("/jobs/{}", job.id), job.vehicle.unwrap());

    let asked = owner.sees(&path).await;
    assert!(asked.contains(&format!("href=\"{path}/vehicle\"")), "{asked}");
    let page = owner.sees(&format!("{path}/vehicle")).await;
    for there in [&*words, &path, "/jobs/J-9", "Erase it from 3 jobs", "It cannot be undone."] {
        assert!(page.contains(there), "{there}: {page}");
    }
    let version = value(&page, "name=\"version\" value=\"");
    let form = [("version", &*version)];
    let done = owner.does(&format!("{path}/vehicle"), &form).await;
    assert!(done.contains("A vehicle’s name is erased. Jobs: "), "{done}");
    assert!(!done.contains(&words) && !done.contains("/vehicle\""), "{done}");
    for id in ["J-1", job.id.as_str(), "J-9"] {
        assert_eq!(shop.store.get::<Job>(shop.shop, id).await.unwrap().row.vehicle, None);
    }
    let found = owner.sees(&format!("/jobs?all=1&vehicle={}", words.replace(' ', "+"))).await;
    assert!(found.contains("No job is found."), "{found}");
    // The same form again, as after a double click, finds nothing to do.
    assert_eq!(owner.leads(&format!("{path}/vehicle"), &form).await, path);
    let deeds = owner.sees("/deeds").await;
    assert_eq!(deeds.matches("A vehicle’s name is erased").count(), 1, "{deeds}");
    assert!(!deeds.contains(&words), "{deeds}");
}

#[tokio::test]
async fn a_job_that_was_changed_since_is_looked_at_again() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let refused = owner.sends("/jobs/J-4/vehicle", &[("version", "9")]).await;
    assert_eq!(refused.status, 412);
    assert!(refused.html.contains("Somebody changed this job"), "{}", refused.html);
    let job = shop.store.get::<Job>(shop.shop, "J-4").await.unwrap();
    assert!(job.row.vehicle.is_some());
}

#[tokio::test]
async fn a_helper_does_not_erase() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    assert!(!helper.sees("/jobs/J-4").await.contains("/vehicle\""));
    assert_eq!(helper.get("/jobs/J-4/vehicle").await.status, 403);
    assert_eq!(helper.sends("/jobs/J-4/vehicle", &[("version", "1")]).await.status, 403);
    assert!(shop.store.get::<Job>(shop.shop, "J-4").await.unwrap().row.vehicle.is_some());
}
