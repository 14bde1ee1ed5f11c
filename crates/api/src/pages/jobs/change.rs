//! A job is changed or moved, begun, called off: each only where the page that asks for it showed
//! the job as it is.

use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, Job};
use capful_store::{Change, Effects, StoreError, WriteContext};

use super::fields;
use super::one::{Sent, shown};
use crate::api::Api;
use crate::known::known;
use crate::pages::form::Form;
use crate::pages::shown::{lead_to, led};
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};
use crate::written::refusal;

/// `POST /jobs/{id}`
pub(crate) async fn post(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    let changed = change(&api, &id, &form).await;
    let fields = form.fields.clone();
    told(&api, &id, &form, changed, Sent { job: Some(fields), ..Sent::default() }).await
}

async fn change(api: &Api, id: &Id, form: &Form) -> Result<Response, Problem> {
    let caller = &form.visitor.caller;
    let known = known(api, caller).await?;
    let before = api.store.get::<Job>(caller.shop, id.as_str()).await?.row;
    let asked = fields::read(api, &known, form)?;
    // What a helper does not see stays as it is.
    let price = if form.visitor.is_owner() { asked.price } else { before.price };
    let job = Job { id: id.clone(), price, ..asked };
    done(api, id, &asked_of(api, form)?, &Change::ChangeJob(job)).await
}

/// `POST /jobs/{id}/start`
pub(crate) async fn start(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    let asked = asked_of(&api, &form)?;
    let started =
        done(&api, &id, &asked, &Change::StartJob { job: id.clone(), at: asked.now }).await;
    told(&api, &id, &form, started, Sent::default()).await
}

/// `POST /jobs/{id}/cancel`
pub(crate) async fn cancel(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    let asked = asked_of(&api, &form)?;
    let change = Change::CancelJob { job: id.clone(), at: asked.now };
    let cancelled = done(&api, &id, &asked, &change).await;
    told(&api, &id, &form, cancelled, Sent::default()).await
}

/// What the store is asked, of the version that the page showed.
fn asked_of(api: &Api, form: &Form) -> Result<WriteContext, Problem> {
    let version = form.version()?;
    let needed = || Problem::new(Kind::NoVersion, "load the job's page again and send it again");
    Ok(form.asked_of(api, Some(version.ok_or_else(needed)?)))
}

async fn done(
    api: &Api,
    id: &Id,
    asked: &WriteContext,
    change: &Change,
) -> Result<Response, Problem> {
    let path = format!("/jobs/{}", segment(id));
    let answer = |outcome: &Effects| lead_to(&path, outcome);
    let done: Result<_, StoreError> = api.store.change(asked, change, answer).await;
    Ok(led(&done.map_err(|error| refusal(error, Some(("job", id.as_str()))))?))
}

/// What came of it; where it was refused, the page of the job with what was sent.
async fn told(
    api: &Api,
    id: &Id,
    form: &Form,
    done: Result<Response, Problem>,
    sent: Sent,
) -> Result<Response, Problem> {
    match done {
        Err(wrong)
            if wrong.field.is_some() || matches!(wrong.kind, Kind::Stale | Kind::Refused) =>
        {
            shown(api, &form.visitor, id, Sent { wrong: Some(wrong), ..sent }).await
        }
        other => other,
    }
}
