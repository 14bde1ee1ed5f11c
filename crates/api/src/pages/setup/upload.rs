//! A form with files, sent by the person that its page was made for.

use std::collections::BTreeMap;

use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{FromRequest, Request};
use sha2::{Digest, Sha256};

use super::archive;
use crate::api::Api;
use crate::once;
use crate::pages::form::{Fields, Form, sent_by};
use crate::problem::{Kind, Problem};

/// A form, and the files that were sent with it, those of archives among them.
#[derive(Debug)]
pub(super) struct Upload {
    pub form: Form,
    pub files: BTreeMap<String, Vec<u8>>,
}

impl FromRequest<Api> for Upload {
    type Rejection = Problem;

    async fn from_request(request: Request, api: &Api) -> Result<Self, Problem> {
        let (visitor, path) = sent_by(&request)?;
        let parts = Multipart::from_request(request, api).await;
        let mut parts = parts.map_err(|_| Problem::field("files", "a form with files"))?;
        let (mut fields, mut files) = (Fields::default(), BTreeMap::new());
        while let Some(part) = parts.next_field().await.map_err(unread)? {
            let name = part.name().unwrap_or_default().to_owned();
            let Some(file) = part.file_name().map(str::to_owned) else {
                fields.add(&name, part.text().await.map_err(unread)?);
                continue;
            };
            let bytes = part.bytes().await.map_err(unread)?;
            if file.is_empty() && bytes.is_empty() {
                continue;
            }
            // The same form is known again by what is in its files.
            let digest = Sha256::digest(&bytes);
            let digest: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
            fields.add(&name, format!("{file} {digest}"));
            if archive::is_archive(&bytes) {
                files.extend(archive::unpack(&bytes, api.settings.import_limit)?);
            } else {
                files.insert(file, bytes.to_vec());
            }
        }
        Ok(Self { form: Form::of(visitor, &path, fields)?, files })
    }
}

fn unread(error: MultipartError) -> Problem {
    if once::is_late(&error) {
        return Problem::new(Kind::BodyTooSlow, once::TOO_SLOW);
    }
    let kind = Kind::of_status(error.status());
    Problem::new(kind, error.body_text())
}
