//! The password that is asked again before what a left phone must not do: tokens, owners, other
//! people's passwords, signing everybody out.

use capful_store::TryKey;
use chrono::{DateTime, TimeDelta, Utc};

use super::form::Form;
use super::passwords::Asker;
use super::say::words;
use super::visitor::Visitor;
use crate::api::Api;
use crate::problem::Problem;

/// The field that the password is asked in.
const FIELD: &str = "own_password";
/// How long a password counts that was given.
const COUNTS: TimeDelta = TimeDelta::minutes(10);

/// Whether somebody has to give the password again.
pub(crate) fn asks(visitor: &Visitor, now: DateTime<Utc>) -> bool {
    visitor.confirmed_at.is_none_or(|at| now - at > COUNTS)
}

/// Holds a form to the password of who sends it, where they have not given it lately.
///
/// # Errors
/// [`Problem`] that names the field of the password, where it is missing or wrong.
pub(crate) async fn must_be_confirmed(api: &Api, form: &mut Form) -> Result<(), Problem> {
    let (visitor, now) = (&form.visitor, api.now());
    if !asks(visitor, now) {
        return Ok(());
    }
    let Some(password) = form.fields.text(FIELD) else {
        return Err(Problem::field(FIELD, words().say("confirm-missing").to_string()));
    };
    must_be_own(api, visitor, FIELD, password).await?;
    api.store.confirm_session(visitor.caller.shop, visitor.session, now).await?;
    form.visitor.confirmed_at = Some(now);
    Ok(())
}

/// Holds a password to be the one of who is signed in. Wrong ones are counted by the person alone:
/// what strangers try with the name is not held against who is signed in, and a browser that was
/// left open is no way to try them all.
///
/// # Errors
/// [`Problem`] that names the field.
pub(crate) async fn must_be_own(
    api: &Api,
    visitor: &Visitor,
    field: &str,
    password: &str,
) -> Result<(), Problem> {
    let (t, now, person) = (words(), api.now(), &visitor.person);
    let turn = api.passwords.turn(Asker::Known)?;
    let key = [TryKey::person(person.id)];
    if let Some(until) = api.store.take_try(&key, now).await? {
        let seconds = (until - now).num_seconds() + 1;
        return Err(Problem::field(
            field,
            t.say("sign-in-wait").with("seconds", seconds).to_string(),
        ));
    }
    let found = api.store.signing_in(&person.sign_in).await?;
    let kept = found.filter(|found| found.person.id == person.id).map(|found| found.password_hash);
    if !turn.is(password, kept).await? {
        let address = visitor.address.to_string();
        api.store.note_wrong_sign_in(Some(person), &address, now).await?;
        return Err(Problem::field(field, t.say("me-old-wrong").to_string()));
    }
    Ok(api.store.forget_tries_of(&key).await?)
}
