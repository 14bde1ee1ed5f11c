//! A form that was sent: its fields, that it comes from a page of this session, and the key that
//! it is known again by. [`from_our_pages`] stands before them all: it refuses what a page of
//! somebody else sends.

use axum::extract::{FromRequest, Request};
use axum::response::{IntoResponse, Response};
use capful_store::WriteContext;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use tower_http::csrf::{CsrfLayer, ProtectionError};

use super::visitor::Visitor;
use crate::api::{Api, Settings};
use crate::once;
use crate::problem::{Kind, Problem};

/// The fields that every form carries: what says that it is this session's, and its key.
const OWN: [&str; 2] = ["csrf", "key"];

/// The fields of a form, in their order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Fields(Vec<(String, String)>);

impl Fields {
    /// Reads what stands behind the `?` of an address, or in the body of a form.
    pub(crate) fn read(text: &[u8]) -> Self {
        Self(form_urlencoded::parse(text).into_owned().collect())
    }

    /// A field; nothing where it is not there or empty.
    pub(crate) fn text(&self, name: &str) -> Option<&str> {
        let own = self.0.iter().filter(|(own, _)| own == name).map(|(_, text)| text.trim());
        own.into_iter().find(|text| !text.is_empty())
    }

    /// A field, as a form shows it again.
    pub(crate) fn shown(&self, name: &str) -> &str {
        self.text(name).unwrap_or_default()
    }

    /// Every field of a name, without spaces around it.
    pub(crate) fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        self.0.iter().filter(move |(own, _)| own == name).map(|(_, text)| text.trim())
    }

    /// Whether a box of this name and value is ticked.
    pub(crate) fn ticked(&self, name: &str, value: &str) -> bool {
        self.all(name).any(|text| text == value)
    }

    /// Puts a field in place of those of its name.
    pub(crate) fn set(&mut self, name: &str, value: impl Into<String>) {
        self.0.retain(|(own, _)| own != name);
        self.0.push((name.to_owned(), value.into()));
    }

    /// Puts a field behind the others, those of its name too.
    pub(crate) fn add(&mut self, name: &str, value: impl Into<String>) {
        self.0.push((name.to_owned(), value.into()));
    }

    /// These fields as the body that the same operation takes over HTTP: those that are not filled
    /// in are not there, those of `lists` are lists.
    ///
    /// # Errors
    /// [`Problem`] where a field is missing that has to be there.
    pub(crate) fn body<T: DeserializeOwned>(
        &self,
        names: &[&str],
        lists: &[&str],
    ) -> Result<T, Problem> {
        let mut body = serde_json::Map::new();
        for name in names {
            if let Some(text) = self.text(name) {
                body.insert((*name).to_owned(), text.into());
            }
        }
        for name in lists {
            let all: Vec<&str> = self.all(name).filter(|text| !text.is_empty()).collect();
            body.insert((*name).to_owned(), all.into());
        }
        serde_path_to_error::deserialize(serde_json::Value::Object(body)).map_err(|error| {
            let text = error.inner().to_string();
            let missing =
                text.strip_prefix("missing field `").and_then(|rest| rest.split('`').next());
            match missing {
                Some(field) => Problem::field(field, "this has to be filled in"),
                None => Problem::field(&error.path().to_string(), text),
            }
        })
    }
}

/// A form of a page, sent by the person that the page was made for.
#[derive(Debug, Clone)]
pub(crate) struct Form {
    pub fields: Fields,
    /// Who sent it.
    pub visitor: Visitor,
    key: String,
    fingerprint: String,
}

impl Form {
    /// What the store is asked.
    pub(crate) fn asked(&self, api: &Api) -> WriteContext {
        let caller = &self.visitor.caller;
        let asked = WriteContext::plainly(caller.shop, api.now()).by(caller.by);
        asked.once(&self.key, &self.fingerprint)
    }

    /// The same, where the row is still of the version that the page showed.
    pub(crate) fn asked_of(&self, api: &Api, version: Option<i64>) -> WriteContext {
        WriteContext { if_match: version, ..self.asked(api) }
    }

    /// The version that the page showed.
    ///
    /// # Errors
    /// [`Problem`] where it is no number.
    pub(crate) fn version(&self) -> Result<Option<i64>, Problem> {
        let text = self.fields.text("version");
        let number = text.map(str::parse).transpose();
        number.map_err(|_| Problem::field("version", "a page's own version of the row"))
    }
}

impl FromRequest<Api> for Form {
    type Rejection = Problem;

    async fn from_request(request: Request, api: &Api) -> Result<Self, Problem> {
        let (visitor, path) = sent_by(&request)?;
        let fields = read(request, api).await?;
        Self::of(visitor, &path, fields)
    }
}

/// Who sends a form, and to where, where it comes from a page of ours.
pub(super) fn sent_by(request: &Request) -> Result<(Visitor, String), Problem> {
    let visitor = request.extensions().get::<Visitor>().cloned();
    let visitor = visitor.ok_or_else(|| Problem::new(Kind::NoToken, "sign in first"))?;
    Ok((visitor, request.uri().path().to_owned()))
}

impl Form {
    /// A form of these fields, where they carry what a page of this session gave them.
    pub(super) fn of(visitor: Visitor, path: &str, fields: Fields) -> Result<Self, Problem> {
        if fields.text("csrf") != Some(&visitor.csrf) {
            let detail = "this page was made for another session: load it again and send it again; \
                          nothing was changed";
            return Err(Problem::new(Kind::ScopeTooNarrow, detail));
        }
        let key = fields.text("key").unwrap_or_default().to_owned();
        if key.is_empty() || key.len() > 100 || !key.bytes().all(|byte| byte.is_ascii_graphic()) {
            return Err(Problem::new(Kind::NoKey, "load the page again and send it again"));
        }
        let mut digest = Sha256::new().chain_update("PAGE ").chain_update(path);
        for (name, text) in fields.0.iter().filter(|(name, _)| !OWN.contains(&name.as_str())) {
            digest = digest.chain_update(format!("\n{}:{name}={}:{text}", name.len(), text.len()));
        }
        let fingerprint = digest.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { fields, visitor, key: format!("page-{key}"), fingerprint })
    }
}

/// A form of somebody who is not signed in yet.
#[derive(Debug, Clone, Default)]
pub(crate) struct OpenForm(pub Fields);

impl FromRequest<Api> for OpenForm {
    type Rejection = Problem;

    async fn from_request(request: Request, api: &Api) -> Result<Self, Problem> {
        Ok(Self(read(request, api).await?))
    }
}

async fn read(request: Request, api: &Api) -> Result<Fields, Problem> {
    let bytes = once::bytes_of(request, api).await?;
    Ok(Fields::read(&bytes))
}

/// How what a page of somebody else sends is refused.
type Refusal = fn(ProtectionError) -> Response;

/// Refuses what a page of somebody else sends. Browsers say where a form comes from: a page of the
/// service itself (`Sec-Fetch-Site`), of the public address, or of the host that it is sent to.
pub(super) fn from_our_pages(settings: &Settings) -> CsrfLayer<Refusal> {
    let layer = CsrfLayer::new().with_rejection_response(refused as Refusal);
    let Some(public) = &settings.public_url else { return layer };
    // An origin as `PublicUrl` writes it is never refused.
    layer.clone().add_trusted_origin(public.origin()).unwrap_or(layer)
}

fn refused(_: ProtectionError) -> Response {
    let detail = "this form was sent from another site: nothing was changed";
    Problem::new(Kind::ScopeTooNarrow, detail).into_response()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn fields_become_a_body() {
        let fields = Fields::read(b"product=soap&quantity=&job_types=a&job_types=b&other=1");
        let body: serde_json::Value =
            fields.body(&["product", "quantity"], &["job_types"]).unwrap();
        assert_eq!(body, serde_json::json!({"product": "soap", "job_types": ["a", "b"]}));
    }
}
