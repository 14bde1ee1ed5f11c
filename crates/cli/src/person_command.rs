//! `capful person`: who signs in to the pages, and with which password.

use std::io::{BufRead, IsTerminal, stdin};

use capful_store::{By, NewPerson, Person, Role, Store, StoreError, WriteContext};
use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::answer::{Answer, Failure};
use crate::args::{
    PersonAddArgs, PersonCommand, PersonListArgs, PersonPasswordArgs, PersonUnlockArgs, ShopArgs,
};
use crate::render::{Ink, person_table};
use crate::{database, plan_command, token_command};

/// Adds, lists or unlocks people, or sets their passwords.
///
/// # Errors
/// [`Failure`] where there is no shop, nobody of the name, or the password will not do.
pub fn run(command: &PersonCommand, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    match command {
        PersonCommand::Add(args) => add(args, now),
        PersonCommand::List(args) => list(args, ink),
        PersonCommand::Password(args) => set_password(args, now),
        PersonCommand::Unlock(args) => unlock(args, now),
    }
}

fn add(args: &PersonAddArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let unknown = || Failure::Refused(format!("no role is called {:?}", args.role));
    let role = Role::from_word(&args.role).ok_or_else(unknown)?;
    let (sign_in, name) = (args.sign_in.as_str(), args.name.as_str());
    database::wait(async {
        let (store, shop) = database::open_shop(&args.place).await?;
        let password_hash = &asked_hash(sign_in).await?;
        let new = NewPerson { shop, sign_in, name, role, password_hash };
        Ok(store.add_person(&new, now, By::Nobody).await?)
    })?;
    Ok(Answer::yes(format!("{name} signs in as {sign_in}, and is {}.\n", says(role)), Vec::new()))
}

const fn says(role: Role) -> &'static str {
    match role {
        Role::Owner => "an owner",
        Role::Helper => "a helper",
    }
}

/// What the password is kept as that somebody types, twice and unseen, or that a program writes to
/// standard input.
async fn asked_hash(sign_in: &str) -> Result<String, Failure> {
    let failed = |error| Failure::Serving { what: "no password can be read".to_owned(), error };
    let password = match stdin().is_terminal() {
        true => typed(sign_in).map_err(failed)?,
        false => {
            let mut line = String::new();
            stdin().lock().read_line(&mut line).map_err(failed)?;
            Some(line.trim_end_matches(['\r', '\n']).to_owned())
        }
    };
    let differ = || Failure::Refused("the two passwords differ: nothing was changed".to_owned());
    let hashed = capful_api::password_hash("password", &password.ok_or_else(differ)?).await;
    hashed.map_err(|wrong| Failure::Refused(format!("the password has {}", wrong.detail)))
}

/// A password that is typed twice the same; nothing where the two differ.
fn typed(sign_in: &str) -> std::io::Result<Option<String>> {
    let once = rpassword::prompt_password(format!("Password of {sign_in}: "))?;
    let again = rpassword::prompt_password("The same again: ")?;
    Ok((once == again).then_some(once))
}

/// A person as they are listed.
#[derive(Debug, Clone, Serialize)]
pub struct ListedPerson {
    /// What they sign in with.
    pub sign_in: String,
    /// What they are called.
    pub name: String,
    /// What they may do.
    pub role: &'static str,
    /// Since when.
    pub made_at: DateTime<Utc>,
    /// Until when.
    pub ended_at: Option<DateTime<Utc>>,
}

fn list(args: &PersonListArgs, ink: Ink) -> Result<Answer, Failure> {
    let people = database::wait(async {
        let (store, shop) = database::open_shop_to_read(&args.place).await?;
        let people = store.people(shop).await?;
        store.close().await;
        Ok(people)
    })?;
    let listed = |person: Person| ListedPerson {
        role: person.role.word(),
        sign_in: person.sign_in,
        name: person.name,
        made_at: person.made_at,
        ended_at: person.ended_at,
    };
    let people: Vec<ListedPerson> = people.into_iter().map(listed).collect();
    let text = if args.json { plan_command::json(&people)? } else { person_table(&people, ink) };
    Ok(Answer::yes(text, Vec::new()))
}

/// Somebody by what they sign in with, which is theirs alone in the database: their shop is known
/// by it. Where a shop is named, it must be that.
async fn signing_in(place: &ShopArgs, sign_in: &str) -> Result<(Store, Person), Failure> {
    let store = database::open_existing(&database::settings(&place.database)?).await?;
    let none = || StoreError::NotFound { what: "person", id: sign_in.to_owned() };
    let person = store.signing_in(sign_in).await?.ok_or_else(none)?.person;
    if let Some(named) = &place.shop
        && database::shop(&store, Some(named)).await?.0 != person.shop
    {
        return Err(none().into());
    }
    Ok((store, person))
}

fn set_password(args: &PersonPasswordArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let sign_in = &args.sign_in;
    database::wait(async {
        let (store, person) = signing_in(&args.place, sign_in).await?;
        let hash = asked_hash(sign_in).await?;
        let asked = WriteContext::plainly(person.shop, now);
        let nothing = capful_store::Answer { status: 200, body: String::new() };
        store.set_password(person.id, &hash, None, &asked, nothing).await?;
        Ok(())
    })?;
    let text = format!("{sign_in} has another password, and is signed out everywhere.\n");
    Ok(Answer::yes(text, Vec::new()))
}

/// Forgets the wrong passwords of somebody, and makes a code by which one browser is known, so that
/// they get in even while somebody else goes on guessing.
fn unlock(args: &PersonUnlockArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let sign_in = &args.sign_in;
    let code = database::wait(async {
        let (store, person) = signing_in(&args.place, sign_in).await?;
        let code = token_command::secret()?;
        store.unlock_person(person.shop, person.id, now, By::Nobody).await?;
        store.add_device(person.shop, person.id, &code, now).await?;
        Ok(code)
    })?;
    let text = format!(
        "{sign_in} may try again at once. Where somebody goes on guessing, sign in by this address \
         of the service, which is kept from nobody:\n  /sign-in?unlock={code}\n"
    );
    Ok(Answer::yes(text, Vec::new()))
}
