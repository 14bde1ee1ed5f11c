//! The shop folder: taken out as one file, and taken over from files, all of it or nothing.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use capful_store::Effects;

use super::archive;
use super::upload::Upload;
use crate::api::Api;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::{Kind, OneError, Problem};
use crate::routes::folder::{files_of, read, taking_over};

/// Files that rows of other files name things of: where they are not sent, the shop's own stand.
const OWN: [&str; 4] = ["shop.toml", "products.csv", "suppliers.csv", "job_types.csv"];

#[derive(Template)]
#[template(path = "setup/folder.html")]
struct FolderPage {
    frame: Frame,
    /// What is wrong as a whole.
    wrong: Option<String>,
    errors: Vec<Wrong>,
}

/// A cell that should hold something else.
#[derive(Debug, PartialEq, Eq)]
struct Wrong {
    file: String,
    line: String,
    column: String,
    detail: String,
}

/// `GET /setup/folder`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    shown(&api, &visitor, None).await
}

async fn shown(api: &Api, visitor: &Visitor, wrong: Option<Problem>) -> Result<Response, Problem> {
    let status = status_of(&wrong);
    let title = words().say("folder-title");
    let frame = Frame::of(api, visitor, Place::More, title, "/setup/folder").await?;
    let errors = wrong.iter().flat_map(|wrong| &wrong.errors).map(Wrong::of).collect();
    let wrong = wrong.map(|wrong| wrong.detail);
    page_of(status, &FolderPage { frame, wrong, errors })
}

impl Wrong {
    /// Of `FILE:LINE:COLUMN`.
    fn of(error: &OneError) -> Self {
        let mut parts = error.field.splitn(3, ':');
        let mut next = || parts.next().unwrap_or_default().to_owned();
        let (file, line, column) = (next(), next(), next());
        // A row that was read without its line is told by what it is known by.
        let line = if line == "0" { String::new() } else { line };
        Self { file, line, column, detail: error.detail.clone() }
    }
}

/// `GET /setup/folder/shop.zip`
pub(crate) async fn export(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let facts = api.store.facts(visitor.caller.shop, None).await?;
    let packed = tokio::task::spawn_blocking(move || {
        let files = capful_folder::to_files(&facts);
        archive::pack(files.iter().map(|(name, bytes)| (&**name, &bytes[..])))
    });
    let packed = packed.await.map_err(|error| Problem::internal(&error))??;
    let name = "attachment; filename=\"shop.zip\"";
    let headers = [(header::CONTENT_TYPE, "application/zip"), (header::CONTENT_DISPOSITION, name)];
    Ok((headers, packed).into_response())
}

/// `POST /setup/folder`
pub(crate) async fn import(
    State(api): State<Api>,
    Owner(visitor): Owner,
    upload: Upload,
) -> Result<Response, Problem> {
    match taken(&api, &visitor, upload).await {
        Err(wrong) if wrong.kind == Kind::BadBody => shown(&api, &visitor, Some(wrong)).await,
        other => other,
    }
}

async fn taken(api: &Api, visitor: &Visitor, upload: Upload) -> Result<Response, Problem> {
    let asked = upload.form.asked(api);
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(led(&capful_store::Answered::Replayed(before)));
    }
    if upload.files.is_empty() {
        return Err(Problem::field("files", words().say("folder-none").to_string()));
    }
    let mut files = upload.files;
    if OWN.iter().any(|name| !files.contains_key(*name)) {
        let own = api.store.facts(visitor.caller.shop, None).await?;
        let own: BTreeMap<String, Vec<u8>> = files_of(&own);
        for (name, bytes) in own.into_iter().filter(|(name, _)| OWN.contains(&name.as_str())) {
            files.entry(name).or_insert(bytes);
        }
    }
    let facts = read(files).await?;
    let change = taking_over(api, &visitor.caller, facts, asked.now).await?;
    let answer = |outcome: &Effects| lead_to("/setup", outcome);
    Ok(led(&api.store.change(&asked, &change, answer).await?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_has_a_place() {
        let error = |field: &str| OneError { field: field.to_owned(), detail: "odd".to_owned() };
        let wrong = Wrong::of(&error("products.csv:2:unit"));
        assert_eq!((&*wrong.file, &*wrong.line, &*wrong.column), ("products.csv", "2", "unit"));
        assert_eq!(Wrong::of(&error("products.csv:0:id")).line, "");
        assert_eq!(Wrong::of(&error("shop.toml:3")).column, "");
    }
}
