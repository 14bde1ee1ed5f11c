//! The shop folder: everything that was written down, as the files that `capful plan` reads.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::{ExpectedPour, Facts, Snapshot};
use capful_store::{Answered, Change, Effects, StoreError};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::params::{Params, When};
use crate::problem::{Kind, OneError, Problem};
use crate::schema;
use crate::view;

/// Problems that an answer lists of one folder; of more it says how many there are.
const MOST_TOLD: usize = 200;

/// The files of a shop folder.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct FolderAnswer {
    /// Each file's text, by its name.
    #[schema(example = json!({"shop.toml": "name = \"Two Gulls Detailing\"\n"}))]
    pub files: BTreeMap<String, String>,
}

/// Everything that the shop has written down, as a shop folder
#[utoipa::path(
    get,
    path = "/api/v1/folder",
    tag = "setup",
    params(When),
    responses((status = 200, description = "Its files", body = FolderAnswer))
)]
pub(crate) async fn get_folder(
    State(api): State<Api>,
    caller: Caller,
    Params(when): Params<When>,
) -> Result<Json<FolderAnswer>, Problem> {
    let facts = match when.as_of {
        None => api.store.facts(caller.shop, None).await?,
        some => view::snapshot(&api, &caller, some).await?.facts,
    };
    let text = |(name, bytes): (String, Vec<u8>)| {
        String::from_utf8(bytes).map(|text| (name, text)).map_err(|e| Problem::internal(&e))
    };
    let files = files_of(&facts).into_iter();
    Ok(Json(FolderAnswer { files: files.map(text).collect::<Result<_, _>>()? }))
}

/// The files of a shop by their names.
pub(crate) fn files_of(facts: &Facts) -> BTreeMap<String, Vec<u8>> {
    let files = capful_folder::to_files(facts).into_iter();
    files.map(|(name, bytes)| (name.to_string(), bytes)).collect()
}

/// The files of a shop folder to take over.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FolderBody {
    /// Each file's text, by its name; `shop.toml` is always among them.
    #[schema(value_type = schema::FolderFiles)]
    pub files: BTreeMap<String, String>,
}

/// What was new in a folder.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ImportAnswer {
    /// Rows that were added to each file that got any.
    pub added: Vec<AddedRows>,
}

/// Rows that were added to a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct AddedRows {
    /// The file.
    pub file: &'static str,
    /// How many.
    pub rows: usize,
}

impl From<&Effects> for ImportAnswer {
    fn from(outcome: &Effects) -> Self {
        let added = outcome.added.iter().map(|(file, rows)| AddedRows { file, rows: *rows });
        Self { added: added.collect() }
    }
}

/// Takes over what is new in a shop folder, all of it or nothing
///
/// Rows are known by their `id`: the same `id` with other content is refused.
#[utoipa::path(
    post,
    path = "/api/v1/folder",
    tag = "setup",
    params(once::Headers),
    request_body = FolderBody,
    responses((status = 200, description = "What was new", body = ImportAnswer))
)]
pub(crate) async fn post_folder(
    State(api): State<Api>,
    caller: Caller,
    once: Once<FolderBody>,
) -> Result<Response, Problem> {
    // Asked before the folder is read and learned from: that takes long, and comes to another
    // result in a shop that has gone on since.
    let asked = once.asked(&caller, api.now());
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(once::reply(&Answered::Replayed(before)));
    }
    let files = once.body.files.into_iter();
    let files = files.map(|(name, text)| (name, text.into_bytes())).collect();
    let facts = read(files).await?;
    let change = taking_over(&api, &caller, facts, asked.now).await?;
    let answer = |outcome: &Effects| once::answer(StatusCode::OK, &ImportAnswer::from(outcome));
    let done = api.store.change(&asked, &change, answer).await?;
    Ok(once::reply(&done))
}

/// What the files of a shop folder say, read beside the threads that answer.
///
/// # Errors
/// [`Problem`] with the first cells that are not as they should be, and how many there are.
pub(crate) async fn read(files: BTreeMap<String, Vec<u8>>) -> Result<Facts, Problem> {
    let read = tokio::task::spawn_blocking(move || capful_folder::read_files(&files));
    let read = read.await.map_err(|error| Problem::internal(&error))?;
    let read = read.map_err(|errors| wrong(&errors.problems, errors.total()))?;
    Ok(read.facts)
}

/// The change that takes over what is new in these facts.
///
/// # Errors
/// [`Problem`] where a row is there with other content, or the store does not answer.
pub(crate) async fn taking_over(
    api: &Api,
    caller: &Caller,
    facts: Facts,
    now: DateTime<Utc>,
) -> Result<Change, Problem> {
    let known = api.store.facts(caller.shop, None).await?;
    let expected = tokio::task::spawn_blocking({
        let facts = facts.clone();
        move || expected(&known, facts, now)
    });
    let expected = expected.await.map_err(|error| Problem::internal(&error))??;
    Ok(Change::Import { facts: Box::new(facts), expected })
}

/// The first of these problems, and how many there are.
fn wrong(problems: &[capful_folder::Problem], total: usize) -> Problem {
    let mut detail = format!("{total} rows of the folder are not as they should be");
    if total > MOST_TOLD {
        detail = format!("{detail}; the first {MOST_TOLD} are listed");
    }
    let errors = problems.iter().take(MOST_TOLD).map(OneError::from).collect();
    Problem { errors, ..Problem::new(Kind::BadBody, detail) }
}

/// What new jobs are taken to have used, learned from everything that there is then.
fn expected(known: &Facts, new: Facts, now: DateTime<Utc>) -> Result<Vec<ExpectedPour>, Problem> {
    let merged = capful_folder::merge(known, new).map_err(StoreError::Problems)?.0;
    Ok(capful_forecast::expected_pours(&Snapshot::of(&merged, now)))
}
