//! Passwords: argon2id, worked out beside the threads that answer.

use argon2::password_hash::phc::PasswordHash;
use argon2::{Argon2, PasswordHasher, PasswordVerifier};

use crate::problem::Problem;

/// Characters that a password has at least.
pub(crate) const SHORTEST: usize = 10;
/// And at most: more than anybody types.
pub(crate) const LONGEST: usize = 200;

/// What a password is kept as.
///
/// # Errors
/// [`Problem`] that names the field, where it is too short or too long.
pub async fn hash(field: &str, password: &str) -> Result<String, Problem> {
    let length = password.chars().count();
    if length < SHORTEST {
        return Err(Problem::field(field, format!("at least {SHORTEST} characters")));
    }
    if length > LONGEST {
        return Err(Problem::field(field, format!("at most {LONGEST} characters")));
    }
    let password = password.to_owned();
    let hashed = tokio::task::spawn_blocking(move || {
        Argon2::default().hash_password(password.as_bytes()).map(|hash| hash.to_string())
    });
    let hashed = hashed.await.map_err(|error| Problem::internal(&error))?;
    hashed.map_err(|error| Problem::internal(&error))
}

/// Whether a password is the one that was kept. Without one it takes as long and is not.
///
/// # Errors
/// [`Problem`] where it cannot be worked out.
pub(crate) async fn is(password: &str, kept: Option<String>) -> Result<bool, Problem> {
    let password: String = password.chars().take(LONGEST).collect();
    let checked = tokio::task::spawn_blocking(move || match kept {
        Some(kept) => PasswordHash::new(&kept).is_ok_and(|kept| {
            Argon2::default().verify_password(password.as_bytes(), &kept).is_ok()
        }),
        None => {
            let _ = Argon2::default().hash_password(password.as_bytes());
            false
        }
    });
    checked.await.map_err(|error| Problem::internal(&error))
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
        let kept = hash("password", "nine lives of a towel").await.unwrap();
        assert!(kept.starts_with("$argon2id$"), "{kept}");
        assert!(is("nine lives of a towel", Some(kept.clone())).await.unwrap());
        assert!(!is("nine lives of a sponge", Some(kept)).await.unwrap());
        assert!(!is("nine lives of a towel", None).await.unwrap());
    }

    #[tokio::test]
    async fn a_short_password_is_refused() {
        let wrong = hash("password", "short").await.unwrap_err();
        assert_eq!(wrong.field.as_deref(), Some("password"));
    }
}
