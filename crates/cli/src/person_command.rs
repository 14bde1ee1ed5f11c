//! `capful person`: who signs in to the pages, and with which password.

use std::io::{BufRead, IsTerminal, stdin};

use capful_store::{By, NewPerson, Person, Role, Store, StoreError};
use chrono::{DateTime, Utc};
use serde::Serialize;
use uuid::Uuid;

use crate::answer::{Answer, Failure};
use crate::args::{DatabaseArgs, PersonAddArgs, PersonCommand, PersonListArgs, PersonPasswordArgs};
use crate::render::{Ink, person_table};
use crate::{database, plan_command};

/// Adds or lists people, or sets their passwords.
///
/// # Errors
/// [`Failure`] where there is no shop, nobody of the name, or the password will not do.
pub fn run(command: &PersonCommand, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    match command {
        PersonCommand::Add(args) => add(args, now),
        PersonCommand::List(args) => list(args, ink),
        PersonCommand::Password(args) => set_password(args, now),
    }
}

fn add(args: &PersonAddArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let unknown = || Failure::Refused(format!("no role is called {:?}", args.role));
    let role = Role::from_word(&args.role).ok_or_else(unknown)?;
    let (sign_in, name) = (args.sign_in.as_str(), args.name.as_str());
    database::wait(async {
        let (store, shop) = shop_of(&args.place).await?;
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

async fn shop_of(place: &DatabaseArgs) -> Result<(Store, Uuid), Failure> {
    let store = database::open_existing(&database::settings(place)?).await?;
    let shop = database::shop(&store).await?.0;
    Ok((store, shop))
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
        let (store, shop) = shop_of(&args.place).await?;
        Ok(store.people(shop).await?)
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

fn set_password(args: &PersonPasswordArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let sign_in = &args.sign_in;
    database::wait(async {
        let (store, shop) = shop_of(&args.place).await?;
        let none = || StoreError::NotFound { what: "person", id: sign_in.clone() };
        let found = store.signing_in(sign_in).await?.ok_or_else(none)?;
        let hash = asked_hash(sign_in).await?;
        Ok(store.set_password(shop, found.person.id, &hash, now, By::Nobody).await?)
    })?;
    let text = format!("{sign_in} has another password, and is signed out everywhere.\n");
    Ok(Answer::yes(text, Vec::new()))
}
