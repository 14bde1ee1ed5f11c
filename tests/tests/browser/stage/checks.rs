//! What every page is held to, whatever it is for.

use std::collections::BTreeSet;

use serde::Deserialize;
use serde_json::{Value, json};

use super::browser::Browser;

/// The rules of WCAG 2.2, levels A and AA.
const TAGS: [&str; 5] = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

/// What a finger hits without care, in CSS pixels; WCAG 2.2 (2.5.8) asks for 24 at least.
const TARGET: u32 = 44;

/// Where the keyboard is.
#[derive(Debug, Deserialize)]
struct KeyboardAt {
    /// Its place among all that it has to come to; -1 where it is at something else.
    at: i64,
    name: String,
    /// Why it cannot be seen there; empty where it can.
    unseen: String,
    all: Vec<String>,
}

/// Something that keeps people out.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct KeptOut {
    /// The rule's own name.
    pub id: String,
    /// Where on the page.
    pub target: String,
    /// What would be right.
    pub summary: String,
}

impl Browser {
    /// What the open page keeps people out with, of serious or critical impact.
    pub async fn kept_out(&self) -> Vec<KeptOut> {
        self.loaded().await;
        let path = std::env::var("CAPFUL_TEST_AXE").expect("scripts/browser names it");
        let axe = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
        let page = include_str!("page.js");
        let run = "const done = arguments[1]; \
                   keptOut(arguments[0]).then(done, (error) => done(String(error)));";
        let script = format!("{axe}\n{page}\n{run}");
        // It needs timers, which do not run where scripts are off; the page's own have been passed
        // over as it was opened.
        self.let_scripts_run(true).await;
        let told = self.client.execute_async(&script, vec![json!(TAGS)]).await.unwrap();
        self.let_scripts_run(self.look.scripts).await;
        serde_json::from_value(told.clone()).unwrap_or_else(|_| panic!("axe-core: {told}"))
    }

    /// Nothing on the open page keeps people out.
    pub async fn axe(&self) {
        let lines = self.kept_out().await.into_iter().map(|kept| {
            let summary = kept.summary.replace('\n', "\n    ");
            format!("{}: {}\n    {summary}", kept.id, kept.target)
        });
        self.none("what keeps people out", lines.collect()).await;
    }

    /// Whatever is tapped on the open page, links among words aside, is large enough for a thumb.
    pub async fn targets(&self) {
        self.loaded().await;
        let small = self.ask("return smallTargets(...arguments);", vec![json!(TARGET)]).await;
        self.none(&format!("targets under {TARGET}×{TARGET}"), lines(&small)).await;
    }

    /// The open page is no wider than the screen.
    pub async fn fits(&self) {
        self.loaded().await;
        let wide = self.ask("return wide(...arguments);", vec![json!(self.look.width)]).await;
        self.none(&format!("what is over {} wide", self.look.width), lines(&wide)).await;
    }

    /// No text of the page waits for a value that nobody put in.
    pub async fn says_all(&self) {
        self.loaded().await;
        let text = self.text().await;
        let open = text.split("{$").skip(1).map(|rest| rest.chars().take(30).collect());
        self.none("what is not said", open.collect()).await;
    }

    /// Nothing on the pages that were opened since this was asked last goes against their own
    /// content security policy.
    pub async fn keeps_its_policy(&self) {
        self.loaded().await;
        let said = self.console().await.into_iter();
        let broken = said.filter(|line| line.contains("Content Security Policy"));
        self.none("what the policy keeps it from", broken.collect()).await;
    }

    /// All of these at once.
    pub async fn is_for_everybody(&self) {
        self.keeps_its_policy().await;
        self.says_all().await;
        self.fits().await;
        self.targets().await;
        self.axe().await;
    }

    /// The keyboard comes to all that can be pressed or filled in on the open page, in the order of
    /// the page, and it can be seen where it is (WCAG 2.2: 2.1.1, 2.4.3, 2.4.7, 2.4.11).
    pub async fn tabs_through(&self) {
        self.loaded().await;
        let most = self.ask("return mostTabs();", vec![]).await.as_u64().unwrap();
        let (mut reached, mut wrong, mut all) = (BTreeSet::new(), Vec::new(), Vec::new());
        let mut last = 0;
        for _ in 0..most {
            self.keys(&["Tab"]).await;
            let now = self.ask("return keyboardAt();", vec![]).await;
            let Ok(KeyboardAt { at, name, unseen, all: now }) = serde_json::from_value(now) else {
                break;
            };
            let Ok(at) = usize::try_from(at) else { continue };
            if at == 0 && reached.len() > 1 {
                break;
            }
            if !unseen.is_empty() {
                wrong.push(format!("{name}: {unseen}"));
            }
            if at < last {
                wrong.push(format!("{name}: comes after what stands behind it"));
            }
            reached.insert(at);
            (last, all) = (at, now);
        }
        let left = all.iter().enumerate().filter(|(at, _)| !reached.contains(at));
        wrong.extend(left.map(|(_, name)| format!("{name}: the keyboard does not come to it")));
        if all.is_empty() {
            wrong.push("the keyboard comes to nothing".to_owned());
        }
        self.none("what the keyboard alone does not do", wrong).await;
    }

    async fn none(&self, what: &str, found: Vec<String>) {
        if !found.is_empty() {
            let (page, look) = (self.path().await, self.look.suffix());
            panic!("{page} at {look}: {what}:\n  {}", found.join("\n  "));
        }
    }
}

fn lines(list: &Value) -> Vec<String> {
    let list = list.as_array().unwrap();
    list.iter().map(|line| line.as_str().unwrap_or_default().to_owned()).collect()
}
