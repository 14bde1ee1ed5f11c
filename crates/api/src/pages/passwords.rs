//! Passwords: argon2id, worked out beside the threads that answer, and never more than two at once.
//!
//! One takes 19 MiB and some hundredths of a second of a processor. Whoever asks for one takes a
//! place first; where none is left they are told to come again, so that no number of strangers
//! takes more than the two. People of whom the service knows something (who are signed in, or whose
//! browser is known) have places of their own, which strangers cannot fill.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};

use argon2::password_hash::phc::PasswordHash;
use argon2::{Argon2, PasswordHasher, PasswordVerifier};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::say::words;
use crate::problem::{Kind, Problem};

/// Characters that a password has at least.
pub(crate) const SHORTEST: usize = 10;
/// And at most: more than anybody types.
pub(crate) const LONGEST: usize = 200;

/// Passwords that are worked out at once.
const AT_ONCE: usize = 2;
/// Those at work and those that wait, of strangers, and as many again of people who are known.
const PLACES: usize = 16;
/// After how many seconds somebody may come again for whom there was no place.
const COME_AGAIN: u32 = 2;

/// Where passwords are worked out.
#[derive(Debug)]
pub(crate) struct Passwords {
    at_work: Arc<Semaphore>,
    strangers: Arc<Semaphore>,
    known: Arc<Semaphore>,
    load: Arc<Load>,
}

/// How many are worked out now, and how many there were at most.
#[derive(Debug, Default)]
struct Load {
    now: AtomicUsize,
    most: AtomicUsize,
}

/// A place in which one password is worked out.
#[derive(Debug)]
pub(crate) struct Turn {
    place: OwnedSemaphorePermit,
    at_work: Arc<Semaphore>,
    load: Arc<Load>,
}

/// Who asks for a password to be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Asker {
    /// Nobody knows.
    Stranger,
    /// Somebody who is signed in, or whose browser is known.
    Known,
}

impl Default for Passwords {
    fn default() -> Self {
        let of = |permits| Arc::new(Semaphore::new(permits));
        Self {
            at_work: of(AT_ONCE),
            strangers: of(PLACES),
            known: of(PLACES),
            load: Arc::default(),
        }
    }
}

impl Passwords {
    /// A place, where one is left.
    ///
    /// # Errors
    /// [`Kind::TooManyTries`] where none is.
    pub(crate) fn turn(&self, asker: Asker) -> Result<Turn, Problem> {
        let places = match asker {
            Asker::Stranger => &self.strangers,
            Asker::Known => &self.known,
        };
        let full = |_| {
            let text = words().say("passwords-busy").to_string();
            Problem::new(Kind::TooManyTries, text).after(COME_AGAIN)
        };
        let place = Arc::clone(places).try_acquire_owned().map_err(full)?;
        let (at_work, load) = (Arc::clone(&self.at_work), Arc::clone(&self.load));
        Ok(Turn { place, at_work, load })
    }

    /// What a password is kept as, of somebody who is known.
    ///
    /// # Errors
    /// [`Problem`] that names the field, where it is too short or too long;
    /// [`Kind::TooManyTries`].
    pub(crate) async fn hash(&self, field: &str, password: &str) -> Result<String, Problem> {
        must_fit(field, password)?;
        let password = password.to_owned();
        let turn = self.turn(Asker::Known)?;
        turn.work(move || hashed(&password)).await?.map_err(|error| Problem::internal(&error))
    }

    /// How many were worked out at once at most, so far.
    pub(crate) fn most_at_once(&self) -> usize {
        self.load.most.load(SeqCst)
    }
}

impl Turn {
    /// Whether a password is the one that was kept. Without one it takes as long and is not.
    ///
    /// # Errors
    /// [`Problem`] where it cannot be worked out.
    pub(crate) async fn is(self, password: &str, kept: Option<String>) -> Result<bool, Problem> {
        let password: String = password.chars().take(LONGEST).collect();
        self.work(move || match kept {
            Some(kept) => PasswordHash::new(&kept).is_ok_and(|kept| {
                Argon2::default().verify_password(password.as_bytes(), &kept).is_ok()
            }),
            None => {
                let _ = hashed(&password);
                false
            }
        })
        .await
    }

    /// Works something out once it is this one's turn. The place is held until that is done, also
    /// where whoever asked has gone away.
    async fn work<T: Send + 'static>(
        self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let Self { place, at_work, load } = self;
        let running = at_work.acquire_owned().await.map_err(|error| Problem::internal(&error))?;
        let worked = tokio::task::spawn_blocking(move || {
            let now = load.now.fetch_add(1, SeqCst) + 1;
            load.most.fetch_max(now, SeqCst);
            let worked = work();
            load.now.fetch_sub(1, SeqCst);
            drop((running, place));
            worked
        });
        worked.await.map_err(|error| Problem::internal(&error))
    }
}

fn must_fit(field: &str, password: &str) -> Result<(), Problem> {
    let length = password.chars().count();
    if length < SHORTEST {
        return Err(Problem::field(field, format!("at least {SHORTEST} characters")));
    }
    if length > LONGEST {
        return Err(Problem::field(field, format!("at most {LONGEST} characters")));
    }
    Ok(())
}

fn hashed(password: &str) -> Result<String, argon2::password_hash::Error> {
    Argon2::default().hash_password(password.as_bytes()).map(|hash| hash.to_string())
}

/// What a password is kept as.
///
/// # Errors
/// [`Problem`] that names the field, where it is too short or too long.
pub async fn hash(field: &str, password: &str) -> Result<String, Problem> {
    Passwords::default().hash(field, password).await
}

/// A text that nobody guesses: 256 random bits.
///
/// # Errors
/// [`Problem`] where the system draws nothing at random.
pub(crate) fn secret() -> Result<String, Problem> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|error| Problem::internal(&error))?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_is_known_again_and_no_other() {
        let passwords = Passwords::default();
        let kept = passwords.hash("password", "nine lives of a towel").await.unwrap();
        assert!(kept.starts_with("$argon2id$"), "{kept}");
        for (password, kept, is_right) in [
            ("nine lives of a towel", Some(kept.clone()), true),
            ("nine lives of a sponge", Some(kept), false),
            ("nine lives of a towel", None, false),
        ] {
            let turn = passwords.turn(Asker::Stranger).unwrap();
            assert_eq!(turn.is(password, kept).await.unwrap(), is_right);
        }
    }

    #[tokio::test]
    async fn a_short_password_is_refused() {
        let wrong = hash("password", "short").await.unwrap_err();
        assert_eq!(wrong.field.as_deref(), Some("password"));
    }

    /// Of 400 strangers as many are let in as there are places, two are worked out at once, and
    /// somebody who is known gets a place all the same.
    #[tokio::test(flavor = "multi_thread", worker_threads = 4)]
    async fn no_number_of_strangers_takes_more_than_two_at_once() {
        let passwords = Passwords::default();
        let turns: Vec<_> = (0..400).map(|_| passwords.turn(Asker::Stranger)).collect();
        let refused = turns.iter().filter_map(|turn| turn.as_ref().err());
        let refused: Vec<_> = refused.map(|wrong| (wrong.kind, wrong.retry_after)).collect();
        assert_eq!(refused, [(Kind::TooManyTries, Some(COME_AGAIN)); 400 - PLACES]);
        let own = passwords.turn(Asker::Known).unwrap();
        let all = turns.into_iter().flatten().chain([own]);
        let all: Vec<_> = all.map(|turn| tokio::spawn(turn.is("a guess", None))).collect();
        for one in all {
            assert!(!one.await.unwrap().unwrap());
        }
        assert_eq!(passwords.most_at_once(), AT_ONCE);
        assert_eq!(passwords.load.now.load(SeqCst), 0);
        assert!(passwords.turn(Asker::Stranger).is_ok(), "places are free again");
    }

    /// Whoever goes away leaves a password that is still worked out: it keeps its place until then.
    #[tokio::test(flavor = "multi_thread", worker_threads = 4)]
    async fn who_goes_away_makes_no_room_for_more() {
        let passwords = Passwords::default();
        for _ in 0..40 {
            let Ok(turn) = passwords.turn(Asker::Stranger) else { continue };
            let asked = tokio::spawn(turn.is("a guess", None));
            tokio::task::yield_now().await;
            asked.abort();
        }
        // Once both of these can be had, nothing is at work any more.
        let all = passwords.at_work.acquire_many(u32::try_from(AT_ONCE).unwrap()).await.unwrap();
        assert!(passwords.most_at_once() <= AT_ONCE, "{}", passwords.most_at_once());
        drop(all);
    }
}
