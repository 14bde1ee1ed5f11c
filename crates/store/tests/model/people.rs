//! The model's people, what they are signed in by, and tokens.

use capful_store::{
    Answer, AuditAction, By, NewPerson, NewSession, NewToken, Role, Scope, Store, StoreError,
    WriteContext,
};
use chrono::{DateTime, Duration, Utc};
use uuid::Uuid;

use crate::shop::Said;

/// Somebody.
#[derive(Debug, Clone)]
struct Person {
    id: Uuid,
    sign_in: String,
    name: String,
    role: Role,
    password: String,
    has_ended: bool,
}

/// Who signs in, and which programs may ask.
#[derive(Debug, Clone, Default)]
pub struct People {
    people: Vec<Person>,
    /// What a browser holds, whose it is, and whether it was ended.
    sessions: Vec<(String, Uuid, bool)>,
    /// What a program holds, what it is revoked by, and whether it was.
    tokens: Vec<(String, Uuid, bool)>,
}

/// What is done with them.
#[derive(Debug, Clone)]
pub enum PeopleOp {
    Add(usize, Role),
    Edit(usize, Role),
    Password(usize),
    End(usize),
    SignIn(usize),
    SignOut(usize),
    AddToken,
    Revoke(usize),
}

impl PeopleOp {
    pub fn drawn(what: u16, which: usize) -> Self {
        let role = if which.is_multiple_of(3) { Role::Owner } else { Role::Helper };
        match what % 11 {
            0..=2 => Self::Add(which % 5, role),
            3 => Self::Edit(which, role),
            4 => Self::Password(which),
            5 | 6 => Self::End(which),
            7 => Self::SignIn(which),
            8 => Self::SignOut(which),
            9 => Self::AddToken,
            _ => Self::Revoke(which),
        }
    }
}

/// What was done: what is told of it, where it is told of.
type Told = Option<(AuditAction, Uuid)>;

fn said(error: &StoreError) -> Said {
    crate::said(error)
}

impl People {
    /// Does it in both; gives what is told of it.
    ///
    /// # Errors
    /// What differs.
    pub async fn run(
        &mut self,
        store: &Store,
        (shop, now): (Uuid, DateTime<Utc>),
        op: &PeopleOp,
    ) -> Result<Told, String> {
        let by = By::Nobody;
        match op {
            PeopleOp::Add(which, role) => self.add(store, (shop, now), *which, *role).await,
            PeopleOp::AddToken => {
                let text = Uuid::now_v7().to_string();
                let (scope, label) = (Scope::Read, "a program");
                let new = NewToken { shop, text: &text, scope, label, expires_at: None };
                let made = store.add_token(&new, now, by).await.map_err(|e| e.to_string())?;
                self.tokens.push((text, made.id, false));
                Ok(Some((AuditAction::TokenMade, made.id)))
            }
            PeopleOp::Revoke(which) => {
                let place = which.checked_rem(self.tokens.len());
                let Some((_, id, is_revoked)) = place.map(|p| &mut self.tokens[p]) else {
                    let none = store.revoke_token(shop, shop, now, by).await;
                    return expect(none, Some(Said::NotFound)).map(|()| None);
                };
                let was_revoked = std::mem::replace(is_revoked, true);
                let told = Some((AuditAction::TokenRevoked, *id)).filter(|_| !was_revoked);
                expect(store.revoke_token(shop, *id, now, by).await, None).map(|()| told)
            }
            PeopleOp::SignOut(which) => {
                let Some(place) = which.checked_rem(self.sessions.len()) else { return Ok(None) };
                let (text, _, has_ended) = &mut self.sessions[place];
                *has_ended = true;
                let known = store.session(text).await.map_err(|e| e.to_string())?;
                let id = known.ok_or("a session is not known any more")?.0.id;
                expect(store.end_session(shop, id, now).await, None).map(|()| None)
            }
            PeopleOp::SignIn(which) => self.sign_in(store, (shop, now), *which).await,
            PeopleOp::Edit(..) | PeopleOp::Password(_) | PeopleOp::End(_) => {
                self.change(store, (shop, now), op).await
            }
        }
    }

    async fn add(
        &mut self,
        store: &Store,
        (shop, now): (Uuid, DateTime<Utc>),
        which: usize,
        role: Role,
    ) -> Result<Told, String> {
        // Capitals are as good as small letters.
        let sign_in = format!("{}-{}", ["mira", "Mira", "ola", "jo", "JO"][which], shop.simple());
        let is_same = |own: &Person| own.sign_in.to_lowercase() == sign_in.to_lowercase();
        let is_taken = self.people.iter().any(|own| !own.has_ended && is_same(own));
        let name = "Mira";
        let new = NewPerson { shop, sign_in: &sign_in, name, role, password_hash: "first" };
        match store.add_person(&new, now, By::Nobody).await {
            Ok(_) if is_taken => Err(format!("two sign in as {sign_in}")),
            Ok(made) => {
                self.people.push(Person {
                    id: made.id,
                    sign_in,
                    name: name.to_owned(),
                    role,
                    password: "first".to_owned(),
                    has_ended: false,
                });
                Ok(Some((AuditAction::PersonAdded, made.id)))
            }
            Err(error) => expect(Err(error), is_taken.then_some(Said::Conflict)).map(|()| None),
        }
    }

    async fn sign_in(
        &mut self,
        store: &Store,
        (shop, now): (Uuid, DateTime<Utc>),
        which: usize,
    ) -> Result<Told, String> {
        let Some(place) = which.checked_rem(self.people.len()) else { return Ok(None) };
        let (person, text) = (self.people[place].id, Uuid::now_v7().to_string());
        let expires_at = now + Duration::days(9);
        let new = NewSession { shop, person, text: &text, expires_at };
        let refused = self.people[place].has_ended.then_some(Said::Refused);
        if refused.is_none() {
            self.sessions.push((text.clone(), person, false));
        }
        expect(store.add_session(&new, now).await.map(drop), refused).map(|()| None)
    }

    async fn change(
        &mut self,
        store: &Store,
        (shop, now): (Uuid, DateTime<Utc>),
        op: &PeopleOp,
    ) -> Result<Told, String> {
        let (PeopleOp::Edit(which, _) | PeopleOp::Password(which) | PeopleOp::End(which)) = op
        else {
            return Ok(None);
        };
        let Some(place) = which.checked_rem(self.people.len()) else { return Ok(None) };
        let others = self
            .people
            .iter()
            .enumerate()
            .any(|(other, own)| other != place && !own.has_ended && own.role == Role::Owner);
        let own = &mut self.people[place];
        let (id, asked) = (own.id, WriteContext::plainly(shop, now));
        let nothing = || Answer { status: 200, body: String::new() };
        let is_last = own.role == Role::Owner && !own.has_ended && !others;
        let refused = |is: bool| is.then_some(Said::Refused);
        match op {
            PeopleOp::Edit(_, role) => {
                let refused = refused(own.has_ended || is_last && *role != Role::Owner);
                let name = format!("The {} of {}", role.word(), now.format("%H:%M"));
                if refused.is_none() {
                    (own.name, own.role) = (name.clone(), *role);
                }
                let done = store.edit_person(id, &name, *role, &asked, |_| nothing()).await;
                expect(done.map(drop), refused)?;
                Ok(refused.is_none().then_some((AuditAction::PersonChanged, id)))
            }
            PeopleOp::Password(_) => {
                let refused = refused(own.has_ended);
                if refused.is_none() {
                    own.password = now.to_string();
                    self.sign_out(id);
                }
                let done = store.set_password(id, &now.to_string(), None, &asked, nothing()).await;
                expect(done.map(drop), refused)?;
                Ok(refused.is_none().then_some((AuditAction::PasswordSet, id)))
            }
            _ => {
                let was_there = !own.has_ended;
                let refused = refused(is_last);
                own.has_ended |= refused.is_none();
                let is_told = was_there && refused.is_none();
                if is_told {
                    self.sign_out(id);
                }
                let done = store.end_person(id, &asked, |_| nothing()).await;
                expect(done.map(drop), refused)?;
                Ok(is_told.then_some((AuditAction::PersonEnded, id)))
            }
        }
    }

    fn sign_out(&mut self, who: Uuid) {
        self.sessions.iter_mut().filter(|own| own.1 == who).for_each(|own| own.2 = true);
    }

    /// Holds what the store says of everybody against what is known here.
    ///
    /// # Errors
    /// What differs.
    pub async fn compare(
        &self,
        store: &Store,
        shop: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), String> {
        let failed = |error: StoreError| error.to_string();
        let mut people = store.people(shop).await.map_err(failed)?;
        people.sort_by_key(|own| own.id);
        let there =
            people.iter().map(|own| (own.id, own.name.clone(), own.role, own.ended_at.is_some()));
        let here =
            self.people.iter().map(|own| (own.id, own.name.clone(), own.role, own.has_ended));
        crate::same("people", &there.collect::<Vec<_>>(), &here.collect::<Vec<_>>())?;
        for own in &self.people {
            let sign_in = own.sign_in.to_uppercase();
            let found = store.signing_in(&sign_in).await.map_err(failed)?;
            let there = found.filter(|found| found.person.id == own.id);
            let there = there.map(|found| found.password_hash);
            let here = Some(own.password.clone()).filter(|_| !own.has_ended);
            crate::same("signing in", &there, &here)?;
        }
        for (text, _, has_ended) in &self.sessions {
            let there = store.session(text).await.map_err(failed)?;
            crate::same("session", &there.is_some_and(|own| own.0.is_good(now)), &!has_ended)?;
        }
        for (text, _, is_revoked) in &self.tokens {
            let there = store.token(text).await.map_err(failed)?;
            crate::same("token", &there.is_some_and(|own| own.0.is_good(now)), &!is_revoked)?;
        }
        Ok(())
    }
}

/// What was done is as it should have been.
fn expect(done: Result<(), StoreError>, refused: Option<Said>) -> Result<(), String> {
    let there = done.as_ref().err().map(said);
    match there == refused {
        true => Ok(()),
        false => Err(format!("of a person or a token: {done:?}, expected {refused:?}")),
    }
}
