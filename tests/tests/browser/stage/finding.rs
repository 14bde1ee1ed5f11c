//! Seeing: what stands on a page, and waiting for it.

use std::fmt::Display;
use std::time::Duration;

use fantoccini::elements::{Element, ElementRef};
use serde_json::{Value, json};
use tokio::time::{Instant, sleep};

use super::browser::Browser;

/// How often it is looked again.
const LOOKED_EVERY: Duration = Duration::from_millis(25);

/// Stands before an element's reference in the WebDriver standard (12.2).
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// What was looked for is not there (yet), and what is there instead.
pub(super) struct NotThere(pub String);

impl<E: Display> From<E> for NotThere {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}

impl Browser {
    /// Tries until it is well, or fails with what was last in its way.
    pub(super) async fn until<T>(
        &self,
        what: &str,
        mut attempt: impl AsyncFnMut() -> Result<T, NotThere>,
    ) -> T {
        let begun = Instant::now();
        loop {
            match attempt().await {
                Ok(done) => return done,
                Err(NotThere(instead)) if begun.elapsed() >= self.patience => {
                    let page = self.client.current_url().await;
                    let page = page.map(String::from).unwrap_or_default();
                    panic!("{what}\n  page: {page}\n  {instead}");
                }
                Err(_) => sleep(LOOKED_EVERY).await,
            }
        }
    }

    /// Waits until the open page has loaded, with its style and its script. Words can be read
    /// before: what a page looks like is looked at after.
    pub(super) async fn loaded(&self) {
        let attempt = async || {
            let state = self.try_ask("return document.readyState;", vec![]).await?;
            if state == "complete" { Ok(()) } else { Err(NotThere(format!("it is {state}"))) }
        };
        self.until("the page does not load", attempt).await;
    }

    /// The one element that a script of the stage finds by words.
    pub(super) async fn found(&self, run: &str, words: &[Value]) -> Result<Element, NotThere> {
        let answer = self.try_ask(run, words.to_vec()).await?;
        if let Some(element) = answer["element"][ELEMENT].as_str() {
            let element = ElementRef::from(element.to_owned());
            return Ok(Element::from_element_id(self.client.clone(), element));
        }
        let (several, there) = (&answer["several"], &answer["there"]);
        let is_alone = several.as_array().is_none_or(Vec::is_empty);
        Err(NotThere(match is_alone {
            true => format!("there are: {there}"),
            false => format!("there are several: {several}"),
        }))
    }

    /// A field by its label, where these words stand beside it.
    pub(super) async fn field(&self, label: &str, near: Option<&str>) -> Result<Element, NotThere> {
        let run = "return findFilled(...arguments);";
        self.found(run, &[json!(label), json!(near)]).await
    }

    /// Everything that can be read on the page now, on one line; of an open dialog alone, where
    /// there is one.
    pub async fn text(&self) -> String {
        self.ask("return shownText();", vec![]).await.as_str().unwrap_or_default().to_owned()
    }

    async fn try_text(&self) -> Result<String, NotThere> {
        let text = self.try_ask("return shownText();", vec![]).await?;
        Ok(text.as_str().unwrap_or_default().to_owned())
    }

    /// Waits until these words can be read.
    pub async fn sees(&self, words: &str) {
        let what = format!("“{words}” cannot be read");
        let attempt = async || {
            let text = self.try_text().await?;
            if text.contains(words) { Ok(()) } else { Err(NotThere(format!("it says: {text}"))) }
        };
        self.until(&what, attempt).await;
    }

    /// Waits until these words cannot be read any more. What may yet come is not waited for: first
    /// see what comes with it.
    pub async fn does_not_see(&self, words: &str) {
        let what = format!("“{words}” can be read");
        let attempt = async || {
            let text = self.try_text().await?;
            if text.contains(words) { Err(NotThere(format!("it says: {text}"))) } else { Ok(()) }
        };
        self.until(&what, attempt).await;
    }

    /// Waits until a field holds this: its text, the option chosen, `yes` or `no` of a box to tick.
    pub async fn holds(&self, label: &str, value: &str) {
        let what = format!("“{label}” does not hold “{value}”");
        let attempt = async || {
            let field = self.field(label, None).await?;
            let held = self.try_ask("return heldBy(...arguments);", vec![json!(field)]).await?;
            if held == value { Ok(()) } else { Err(NotThere(format!("it holds: {held}"))) }
        };
        self.until(&what, attempt).await;
    }

    /// Waits until a page with this path (and query) is open.
    pub async fn is_at(&self, path: &str) {
        let attempt = async || {
            let now = self.path().await;
            if now == path { Ok(()) } else { Err(NotThere(format!("it is at {now}"))) }
        };
        self.until(&format!("the page is not {path}"), attempt).await;
    }
}
