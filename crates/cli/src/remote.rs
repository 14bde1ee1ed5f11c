//! A running service, spoken to over HTTP.

use std::collections::BTreeMap;

use capful_domain::{AsOf, Facts};
use reqwest::{RequestBuilder, Response, Url};
use serde::Deserialize;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::answer::Failure;
use crate::args::ServerArgs;

/// A running service and the token to speak to it with.
pub(crate) struct Service {
    base: Url,
    token: Option<String>,
    client: reqwest::Client,
}

/// Rows that an import added to a file.
#[derive(Deserialize)]
struct AddedRows {
    file: String,
    rows: usize,
}

/// What an import came to.
#[derive(Deserialize)]
struct Imported {
    added: Vec<AddedRows>,
}

/// The files of a shop folder, each by its name.
#[derive(Deserialize)]
struct Files {
    files: BTreeMap<String, String>,
}

impl Service {
    /// The service that the command line names, if it names one.
    pub(crate) fn of(args: &ServerArgs) -> Result<Option<Self>, Failure> {
        let Some(server) = &args.server else { return Ok(None) };
        let wrong = || {
            let line =
                format!("--server: found {server:?}, expected such as http://127.0.0.1:8080");
            Failure::Service { lines: vec![line] }
        };
        let mut base = Url::parse(server).map_err(|_| wrong())?;
        if !["http", "https"].contains(&base.scheme()) {
            return Err(wrong());
        }
        if !base.path().ends_with('/') {
            base.set_path(&format!("{}/", base.path()));
        }
        // Where there is one already, that is as good.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let client = reqwest::Client::new();
        Ok(Some(Self { base, token: args.token.clone(), client }))
    }

    /// The plan as the service writes it.
    pub(crate) async fn plan(&self, as_of: Option<AsOf>, seed: u64) -> Result<String, Failure> {
        let mut url = self.url("plan")?;
        if let Some(as_of) = as_of {
            url.query_pairs_mut().append_pair("as_of", &as_of.to_string());
        }
        url.query_pairs_mut().append_pair("seed", &seed.to_string());
        let answer = self.ask(self.client.get(url)).await?;
        answer.text().await.map_err(|error| self.failed(&error))
    }

    /// Everything that the shop has written down.
    pub(crate) async fn export(&self) -> Result<Facts, Failure> {
        let answer = self.ask(self.client.get(self.url("folder")?)).await?;
        let Files { files } = answer.json().await.map_err(|error| self.failed(&error))?;
        let files = files.into_iter().map(|(name, text)| (name, text.into_bytes())).collect();
        let read = capful_folder::read_files(&files);
        Ok(read.map_err(|errors| Failure::Folder { errors })?.facts)
    }

    /// Takes over what is new, and says how many rows that is in each file.
    pub(crate) async fn import(&self, facts: &Facts) -> Result<Vec<(String, usize)>, Failure> {
        let files = capful_folder::to_files(facts).into_iter();
        let files: BTreeMap<String, String> = files
            .map(|(name, bytes)| (name, String::from_utf8_lossy(&bytes).into_owned()))
            .collect();
        let post = self.client.post(self.url("folder")?);
        let post = post.header("Idempotency-Key", Uuid::now_v7().to_string());
        let answer = self.ask(post.json(&json!({ "files": files }))).await?;
        let Imported { added } = answer.json().await.map_err(|error| self.failed(&error))?;
        Ok(added.into_iter().map(|added| (added.file, added.rows)).collect())
    }

    fn url(&self, path: &str) -> Result<Url, Failure> {
        let wrong = |error| Failure::Service { lines: vec![format!("{}: {error}", self.base)] };
        self.base.join("api/v1/").and_then(|url| url.join(path)).map_err(wrong)
    }

    /// The answer, where it is yes.
    async fn ask(&self, request: RequestBuilder) -> Result<Response, Failure> {
        let request = match &self.token {
            Some(token) => request.bearer_auth(token),
            None => request,
        };
        let answer = request.send().await.map_err(|error| self.failed(&error))?;
        if answer.status().is_success() {
            return Ok(answer);
        }
        let status = answer.status();
        let body = answer.text().await.unwrap_or_default();
        let mut lines = reasons(&body);
        if lines.is_empty() {
            lines.push(format!("{} answered {status}", self.base));
        }
        if status == reqwest::StatusCode::UNAUTHORIZED {
            let hint = "name a token with --token or in CAPFUL_TOKEN; `capful token create` makes \
                        one where the service's database is";
            lines.push(hint.to_owned());
        }
        Err(Failure::Service { lines })
    }

    fn failed(&self, error: &reqwest::Error) -> Failure {
        let mut why = error.to_string();
        let mut cause = std::error::Error::source(error);
        while let Some(error) = cause {
            why = error.to_string();
            cause = error.source();
        }
        Failure::Service { lines: vec![format!("{} does not answer: {why}", self.base)] }
    }
}

/// What a problem says, a line for each of several things that are wrong.
fn reasons(body: &str) -> Vec<String> {
    let Ok(problem) = serde_json::from_str::<Value>(body) else { return Vec::new() };
    let text = |value: &Value, key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
    let errors = problem.get("errors").and_then(Value::as_array);
    let mut lines: Vec<String> = errors
        .into_iter()
        .flatten()
        .filter_map(|error| {
            let detail = text(error, "detail")?;
            Some(match text(error, "field").filter(|field| !field.is_empty()) {
                Some(field) => format!("{field}: {detail}"),
                None => detail,
            })
        })
        .collect();
    lines.extend(text(&problem, "detail").or_else(|| text(&problem, "title")));
    lines
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn server(url: &str) -> ServerArgs {
        ServerArgs { server: Some(url.to_owned()), token: None }
    }

    #[test]
    fn a_service_may_stand_below_a_path() {
        let url = |base| {
            let service = Service::of(&server(base)).unwrap().unwrap();
            service.url("plan").unwrap().to_string()
        };
        assert_eq!(url("http://127.0.0.1:8080"), "http://127.0.0.1:8080/api/v1/plan");
        assert_eq!(url("https://gulls.test/shop"), "https://gulls.test/shop/api/v1/plan");
    }

    #[test]
    fn what_is_no_address_is_refused() {
        for odd in ["", "127.0.0.1:8080", "ftp://gulls.test", "gulls"] {
            assert!(Service::of(&server(odd)).is_err(), "{odd:?}");
        }
        assert!(Service::of(&ServerArgs::default()).unwrap().is_none());
    }

    #[test]
    fn every_reason_of_a_problem_is_a_line() {
        let body = r#"{"title": "Refused", "detail": "nothing was taken over",
            "errors": [{"field": "jobs.csv", "detail": "found x"}, {"detail": "found y"}]}"#;
        assert_eq!(reasons(body), ["jobs.csv: found x", "found y", "nothing was taken over"]);
        assert_eq!(reasons("<html>"), Vec::<String>::new());
    }
}
