//! The shop folder: everything that was written down, as the files that `capful plan` reads.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, When};
use crate::problem::Problem;
use crate::view;

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
    let files = capful_folder::to_files(&facts).into_iter().map(|(name, b)| (name.to_string(), b));
    Ok(Json(FolderAnswer { files: files.map(text).collect::<Result<_, _>>()? }))
}
