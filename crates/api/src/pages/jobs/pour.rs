//! Something more is poured for a job, whenever it was.

use axum::extract::State;
use axum::response::Response;
use capful_domain::Id;
use capful_store::{Change, Effects};

use super::one::{Sent, shown};
use crate::api::Api;
use crate::known::known;
use crate::pages::finish::in_ledger;
use crate::pages::form::Form;
use crate::pages::shown::{lead_to, led};
use crate::path::{Named, segment};
use crate::problem::Problem;
use crate::written::{PourBody, Reader, refusal};

/// `POST /jobs/{id}/pour`
pub(crate) async fn post(
    State(api): State<Api>,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    match pour(&api, &id, &form).await {
        Err(wrong) if wrong.field.is_some() => {
            let pour = Some(form.fields.clone());
            shown(&api, &form.visitor, &id, Sent { pour, wrong: Some(wrong), job: None }).await
        }
        other => other,
    }
}

async fn pour(api: &Api, id: &Id, form: &Form) -> Result<Response, Problem> {
    let known = known(api, &form.visitor.caller).await?;
    let mut fields = form.fields.clone();
    let (quantity, unit) = in_ledger(fields.shown("quantity"), fields.shown("measure"));
    fields.set("quantity", quantity);
    fields.set("unit", unit.unwrap_or_default());
    fields.set("job", id.as_str());
    let names = ["product", "quantity", "unit", "water", "job", "at"];
    let body: PourBody = fields.body(&names, &[])?;
    let asked = form.asked(api);
    let mut reader = Reader::new(api, &known, asked.now);
    let pour = body.read(&mut reader);
    let pour = reader.end(pour)?;
    let path = format!("/jobs/{}", segment(id));
    let answer = |outcome: &Effects| lead_to(&path, outcome);
    let done = api.store.change(&asked, &Change::Pour(vec![pour]), answer).await;
    Ok(led(&done.map_err(|error| refusal(error, Some(("job", id.as_str()))))?))
}
