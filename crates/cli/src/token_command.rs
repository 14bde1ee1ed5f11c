//! `capful token`: who may ask a service, and for what.

use capful_store::{By, NewToken, Scope, Store, StoreError, Token};
use chrono::{DateTime, Days, Utc};
use serde::Serialize;
use uuid::Uuid;

use crate::answer::{Answer, Failure};
use crate::args::{TokenCommand, TokenCreateArgs, TokenListArgs, TokenRevokeArgs};
use crate::render::{Ink, token_table};
use crate::{database, plan_command};

/// Bytes that a token is drawn from.
const SECRET_BYTES: usize = 32;

/// Makes, lists or revokes tokens.
///
/// # Errors
/// [`Failure`] where there is no shop, or no token of the id.
pub fn run(command: &TokenCommand, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    match command {
        TokenCommand::Create(args) => create(args, now),
        TokenCommand::List(args) => list(args, now, ink),
        TokenCommand::Revoke(args) => revoke(args, now),
    }
}

fn create(args: &TokenCreateArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let unknown = || Failure::Refused(format!("no scope is called {:?}", args.scope));
    let scope = Scope::from_word(&args.scope).ok_or_else(unknown)?;
    let ends = args.days.and_then(|days| now.checked_add_days(Days::new(days.into())));
    let (text, token) = database::wait(async {
        let (store, shop) = database::open_shop(&args.place).await?;
        make(&store, shop, scope, &args.label, ends, now).await
    })?;
    let note = format!(
        "note: token {} of scope {}: it is shown this once, and ended by `capful token revoke {}`",
        token.id, args.scope, token.id
    );
    Ok(Answer::yes(format!("{text}\n"), vec![note]))
}

/// A new token, and its text.
pub(crate) async fn make(
    store: &Store,
    shop: Uuid,
    scope: Scope,
    label: &str,
    expires_at: Option<DateTime<Utc>>,
    now: DateTime<Utc>,
) -> Result<(String, Token), Failure> {
    let text = token_text()?;
    let new = NewToken { shop, text: &text, scope, label, expires_at };
    let token = store.add_token(&new, now, By::Nobody).await?;
    Ok((text, token))
}

/// A token's text, which nobody can guess.
fn token_text() -> Result<String, Failure> {
    Ok(format!("capful_{}", secret()?))
}

/// A text that nobody can guess.
pub(crate) fn secret() -> Result<String, Failure> {
    let mut bytes = [0; SECRET_BYTES];
    let failed = |error| Failure::Refused(format!("the system draws nothing at random: {error}"));
    getrandom::fill(&mut bytes).map_err(failed)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// A token as it is listed.
#[derive(Debug, Clone, Serialize)]
pub struct ListedToken {
    /// What it is revoked by.
    pub id: String,
    /// What it allows.
    pub scope: &'static str,
    /// What it is for.
    pub label: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// When it ends by itself.
    pub expires_at: Option<DateTime<Utc>>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
    /// Whether it is good now.
    pub good: bool,
}

fn list(args: &TokenListArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let tokens = database::wait(async {
        let (store, shop) = database::open_shop_to_read(&args.place).await?;
        let tokens = store.tokens(shop).await?;
        store.close().await;
        Ok(tokens)
    })?;
    let listed = |token: Token| ListedToken {
        id: token.id.to_string(),
        scope: token.scope.word(),
        good: token.is_good(now),
        label: token.label,
        made_at: token.made_at,
        expires_at: token.expires_at,
        revoked_at: token.revoked_at,
    };
    let tokens: Vec<ListedToken> = tokens.into_iter().map(listed).collect();
    let text = if args.json { plan_command::json(&tokens)? } else { token_table(&tokens, ink) };
    Ok(Answer::yes(text, Vec::new()))
}

fn revoke(args: &TokenRevokeArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let none = || StoreError::NotFound { what: "token", id: args.id.clone() };
    let id = Uuid::parse_str(&args.id).map_err(|_| none())?;
    database::wait(async {
        let (store, shop) = database::open_shop(&args.place).await?;
        Ok(store.revoke_token(shop, id, now, By::Nobody).await?)
    })?;
    Ok(Answer::yes(format!("Token {id} is good for nothing now.\n"), Vec::new()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn no_token_is_like_another() {
        let (one, other) = (token_text().unwrap(), token_text().unwrap());
        assert_eq!(one.len(), "capful_".len() + 2 * SECRET_BYTES);
        assert_ne!(one, other);
    }
}
