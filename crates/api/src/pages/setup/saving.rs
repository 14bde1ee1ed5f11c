//! Saving what a form of the setup holds, and showing it again where it cannot be saved.

use axum::http::StatusCode;
use axum::response::Response;
use capful_store::{Change, Effects, Stored};

use crate::api::Api;
use crate::auth::Caller;
use crate::page;
use crate::pages::form::{Fields, Form};
use crate::pages::shown::{lead_to, led};
use crate::problem::{Kind, Problem};
use crate::written::refusal;

/// How far the editing of a row has come.
#[derive(Debug, Clone, Default)]
pub(super) struct Editing {
    /// What the form holds.
    pub fields: Fields,
    /// The version of the row that it is an edit of; 0 where it is new.
    pub version: i64,
    /// Why it was not saved.
    pub wrong: Option<Problem>,
    /// What somebody else has saved since the form was opened.
    pub saved: Option<Fields>,
}

impl Editing {
    /// Begins with what is there.
    pub(super) fn of(fields: Fields, version: i64) -> Self {
        Self { fields, version, ..Self::default() }
    }

    /// Goes on with what was sent, where it could not be saved. `now` is what is there.
    ///
    /// # Errors
    /// The problem itself, where the form can do nothing about it.
    pub(super) fn again(
        form: &Form,
        wrong: Problem,
        now: Option<(Fields, i64)>,
    ) -> Result<Self, Problem> {
        let is_stale = wrong.kind == Kind::Stale;
        let kinds = [Kind::BadBody, Kind::Refused, Kind::Stale, Kind::Conflict];
        if wrong.field.is_none() && !kinds.contains(&wrong.kind) {
            return Err(wrong);
        }
        let mut again = Self::of(form.fields.clone(), form.version()?.unwrap_or_default());
        again.wrong = Some(wrong);
        if let Some((saved, version)) = now.filter(|_| is_stale) {
            again.saved = Some(saved);
            again.version = version;
        }
        Ok(again)
    }

    pub(super) fn status(&self) -> StatusCode {
        match &self.wrong {
            Some(wrong) if wrong.kind == Kind::Stale => StatusCode::PRECONDITION_FAILED,
            Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
            None => StatusCode::OK,
        }
    }

    /// Whether somebody else has saved the row since the form was opened.
    pub(super) fn has_clash(&self) -> bool {
        self.saved.is_some()
    }

    /// What is wrong, where it is told above the form.
    pub(super) fn above(&self) -> Option<&Problem> {
        self.wrong.as_ref().filter(|_| !self.has_clash())
    }
}

/// Makes a change that a form asks for, of the version that the form was made of.
///
/// # Errors
/// [`Problem`] where the store refuses it.
pub(super) async fn save(
    api: &Api,
    form: &Form,
    change: &Change,
    then: &str,
) -> Result<Response, Problem> {
    let version = form.version()?.unwrap_or_default();
    let asked = form.asked_of(api, Some(version));
    let answer = |outcome: &Effects| lead_to(then, outcome);
    let done = api.store.change(&asked, change, answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// Puts points where people wrote commas.
pub(super) fn with_points(fields: &mut Fields, names: &[&str]) {
    for name in names {
        if let Some(text) = fields.text(name).filter(|text| text.contains(',')) {
            let text = text.replace(',', ".");
            fields.set(name, text);
        }
    }
}

/// The id of a new row: what was written, else its name in small letters with dashes, followed by
/// a number where another row has it.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(super) async fn id_of<T: Stored>(
    api: &Api,
    caller: &Caller,
    fields: &Fields,
) -> Result<String, Problem> {
    if let Some(id) = fields.text("id") {
        return Ok(id.to_owned());
    }
    let taken = page::whole::<T>(api, caller).await?;
    let is_taken = |id: &str| taken.iter().any(|listed| listed.row.key() == id);
    Ok(free_id(fields.shown("name"), is_taken))
}

fn free_id(name: &str, is_taken: impl Fn(&str) -> bool) -> String {
    let small = name.to_lowercase();
    let parts = small.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty());
    let dashed: String = parts.collect::<Vec<_>>().join("-").chars().take(48).collect();
    let base = match dashed.trim_matches('-') {
        "" => "row",
        base => base,
    };
    let mut id = base.to_owned();
    let mut number = 2;
    // The page of a new row has that address.
    while id == "new" || is_taken(&id) {
        id = format!("{base}-{number}");
        number += 1;
    }
    id
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_comes_of_a_name() {
        assert_eq!(free_id("Iron remover, 5 L", |_| false), "iron-remover-5-l");
        assert_eq!(free_id("Iron remover", |id| id == "iron-remover"), "iron-remover-2");
        assert_eq!(free_id("???", |_| false), "row");
        assert_eq!(free_id("New", |_| false), "new-2");
        assert!(capful_domain::Id::parse(&free_id(&"é b ".repeat(60), |_| false)).is_ok());
    }
}
