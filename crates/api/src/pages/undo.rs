//! Undo: what was done is taken back by new movements, for as long as it makes sense.

use axum::extract::{Path, State};
use axum::response::Response;
use capful_store::{AuditAction, AuditEntry, Change, Effects};
use uuid::Uuid;

use super::form::Form;
use super::own_path::own_path;
use super::say::words;
use super::shown::{lead_to, led};
use crate::api::Api;
use crate::problem::{Kind, Problem};
use crate::written::refusal;

/// Whether somebody may undo a deed, as far as it can be: what is the owner's to do is the owner's
/// to undo.
pub(super) fn may_undo(is_owner: bool, deed: &AuditEntry) -> bool {
    let is_owners = deed.what.sets_up() || deed.what == AuditAction::OrderPlaced;
    deed.can_be_undone && (is_owner || !is_owners)
}

/// `POST /undo/{deed}`
pub(crate) async fn post(
    State(api): State<Api>,
    Path(deed): Path<String>,
    form: Form,
) -> Result<Response, Problem> {
    let id: Uuid = deed.parse().map_err(|_| Problem::not_found("deed", &deed))?;
    let found = api.store.deed(form.visitor.caller.shop, id).await?;
    let found = found.ok_or_else(|| Problem::not_found("deed", &deed))?;
    if found.can_be_undone && !may_undo(form.visitor.is_owner(), &found) {
        let text = words().say("undo-owner").to_string();
        return Err(Problem::new(Kind::ScopeTooNarrow, text));
    }
    let then = then(form.fields.text("then").unwrap_or("/"), found.what);
    let answer = |outcome: &Effects| lead_to(&then, outcome);
    let done = api.store.change(&form.asked(&api), &Change::Undo { deed: id }, answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

/// Where it leads: to the page that it was asked on, where that is ours. What was set up may not be
/// there any more: then to the list that it stood in.
fn then(asked: &str, what: AuditAction) -> String {
    let asked = own_path(asked);
    match asked.strip_prefix("/setup/").and_then(|rest| rest.split_once('/')) {
        Some((list, _)) if what.sets_up() => format!("/setup/{list}"),
        _ => asked.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_leads_to_a_page_that_is_there() {
        assert_eq!(then("/setup/products/soap", AuditAction::Product), "/setup/products");
        assert_eq!(then("/setup/products", AuditAction::Product), "/setup/products");
        assert_eq!(then("/setup", AuditAction::Imported), "/setup");
        assert_eq!(then("/jobs/J-1", AuditAction::JobFinished), "/jobs/J-1");
        for other in ["//other", "https://other", "/\\other", "/\t/other", "/\n"] {
            assert_eq!(then(other, AuditAction::Poured), "/");
        }
    }
}
