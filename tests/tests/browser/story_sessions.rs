//! Where people are signed in, and the password that is asked again before what a left phone must
//! not do.

use capful_store::Role;
use chrono::TimeDelta;

use crate::in_a_browser;
use crate::stage::{Look, PASSWORD, Shop, Stage};

in_a_browser!(a_lost_phone_is_signed_out, the_password_is_asked_again);

async fn a_lost_phone_is_signed_out(stage: Stage) {
    let shop = Shop::two_gulls().await;
    shop.person("ines", Role::Owner).await;
    shop.person("bo", Role::Helper).await;
    let lost = stage.before(&shop, Look::LAPTOP).await;
    lost.signs_in("bo").await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.signs_in("ines").await;
    phone.open("/people/me").await;
    phone.sees("(this one)").await;
    phone.sees("last seen 2 Mar 2026").await;
    phone.is_for_everybody().await;
    phone.screenshot("sessions-own").await;
    phone.open("/people").await;
    phone.tap("bo · Helper").await;
    phone.sees("Where they are signed in").await;
    phone.is_for_everybody().await;
    phone.screenshot("sessions-of-another").await;
    phone.tap("Sign them out everywhere").await;
    phone.sees("They are signed out everywhere.").await;
    phone.sees("They are not signed in anywhere.").await;
    lost.open("/").await;
    lost.is_at("/sign-in?then=%2F").await;
}

async fn the_password_is_asked_again(stage: Stage) {
    let shop = Shop::two_gulls().await;
    shop.person("ines", Role::Owner).await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.signs_in("ines").await;
    // Lately given, it is not asked.
    phone.open("/people/tokens").await;
    phone.does_not_see("Your own password").await;
    shop.pass(TimeDelta::minutes(11));
    phone.open("/people/tokens").await;
    phone.fill("What it is for", "till").await;
    phone.fill("Your own password", "not this one").await;
    phone.is_for_everybody().await;
    phone.tap("Make the token").await;
    phone.sees("this is not the one that you have").await;
    phone.is_for_everybody().await;
    phone.screenshot("password-asked-again").await;
    phone.holds("What it is for", "till").await;
    phone.fill("Your own password", PASSWORD).await;
    phone.tap("Make the token").await;
    phone.sees("Copy it now: it is shown this once.").await;
    phone.does_not_see("Your own password").await;
    phone.screenshot("password-given-again").await;
}
