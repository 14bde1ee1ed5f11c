//! Doing: what fingers do on a page, by the words that stand there.

use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::elements::Element;
use fantoccini::key::Key;
use serde_json::{Value, json};

use super::browser::Browser;
use super::finding::NotThere;

/// Kinds of input whose text is written as the browser's language has it.
const WRITTEN_BY_LANGUAGE: [&str; 7] =
    ["date", "time", "datetime-local", "month", "week", "color", "range"];

impl Browser {
    /// Taps a button, a link, a summary or a box to tick by its name: the whole of it, or a part
    /// that no other name has.
    pub async fn tap(&self, name: &str) {
        self.tap_where(name, None).await;
    }

    /// Taps the one that stands closest to these words, where several have one name.
    pub async fn tap_by(&self, near: &str, name: &str) {
        self.tap_where(name, Some(near)).await;
    }

    async fn tap_where(&self, name: &str, near: Option<&str>) {
        let beside = near.map(|near| format!(" by “{near}”")).unwrap_or_default();
        let words = [json!(name), json!(near)];
        let run = "return findPressed(...arguments);";
        self.tap_found(&format!("“{name}”{beside} cannot be tapped"), run, &words).await;
    }

    async fn tap_found(&self, what: &str, run: &str, words: &[Value]) {
        self.until(what, async || Ok(self.found(run, words).await?.click().await?)).await;
    }

    /// Writes into the field with a label, instead of what it holds. Days are `2026-03-02`, times
    /// `14:30`; a field for files takes a path.
    pub async fn fill(&self, label: &str, value: &str) {
        self.fill_where(label, None, value).await;
    }

    /// Writes into the field that stands closest to these words.
    pub async fn fill_by(&self, near: &str, label: &str, value: &str) {
        self.fill_where(label, Some(near), value).await;
    }

    async fn fill_where(&self, label: &str, near: Option<&str>, value: &str) {
        let what = format!("“{label}” cannot be filled in");
        let attempt = async || {
            let field = self.field(label, near).await?;
            self.write_into(&field, value).await
        };
        self.until(&what, attempt).await;
    }

    async fn write_into(&self, field: &Element, value: &str) -> Result<(), NotThere> {
        let kind = self.try_ask("return kindOf(...arguments);", vec![json!(field)]).await?;
        let kind = kind.as_str().unwrap_or_default();
        if WRITTEN_BY_LANGUAGE.contains(&kind) {
            let given = vec![json!(field), json!(value)];
            let held = self.try_ask("return setPlainly(...arguments);", given).await?;
            if held != value {
                return Err(NotThere(format!("a field for a {kind} makes {held} of it")));
            }
        } else {
            if kind != "file" {
                field.clear().await?;
            }
            field.send_keys(value).await?;
        }
        Ok(())
    }

    /// Chooses an option: of the list with a label, or of the boxes in a group that is called so.
    pub async fn choose(&self, label: &str, option: &str) {
        let what = format!("“{option}” cannot be chosen for “{label}”");
        let ticked = [json!(label), json!(option)];
        let attempt = async || {
            let run = "return findTicked(...arguments);";
            if let Ok(element) = self.found(run, &ticked).await {
                return Ok(element.click().await?);
            }
            let list = self.field(label, None).await?;
            Ok(list.select_by_label(option).await?)
        };
        self.until(&what, attempt).await;
    }

    /// Presses keys, one after the other, wherever the keyboard is: `Tab`, `Shift+Tab`, `Enter`,
    /// `Space`, `Escape`, `Up` and so on; any other text is typed.
    pub async fn keys(&self, keys: &[&str]) {
        let mut actions = KeyActions::new("keyboard".to_owned());
        for key in keys {
            let (shift, key) = match key.strip_prefix("Shift+") {
                Some(key) => (true, key),
                None => (false, *key),
            };
            let typed = key_named(key).map_or_else(|| key.chars().collect(), |key| vec![key]);
            let shift_is = |down: bool| match down {
                true => KeyAction::Down { value: Key::Shift.into() },
                false => KeyAction::Up { value: Key::Shift.into() },
            };
            if shift {
                actions = actions.then(shift_is(true));
            }
            for value in typed {
                actions = actions.then(KeyAction::Down { value }).then(KeyAction::Up { value });
            }
            if shift {
                actions = actions.then(shift_is(false));
            }
        }
        self.client.perform_actions(actions).await.unwrap();
    }

    /// The name of what the keyboard is at; nothing where it is at nothing that has one.
    pub async fn focused(&self) -> String {
        self.ask("return focused();", vec![]).await.as_str().unwrap_or_default().to_owned()
    }

    /// The whole name of the first thing to press in whose name these words stand.
    pub async fn first_named(&self, words: &str) -> String {
        let run = "return there(PRESSED).map(named).find((one) => one.includes(arguments[0]));";
        let what = format!("nothing to press is called “{words}”");
        let attempt = async || match self.try_ask(run, vec![json!(words)]).await?.as_str() {
            Some(name) => Ok(name.to_owned()),
            None => Err(NotThere("there is none".to_owned())),
        };
        self.until(&what, attempt).await
    }

    /// Presses Tab until the keyboard is at what has this name.
    pub async fn tab_to(&self, name: &str) {
        self.loaded().await;
        let mut passed = Vec::new();
        let most = self.ask("return mostTabs();", vec![]).await.as_u64().unwrap();
        for _ in 0..most {
            self.keys(&["Tab"]).await;
            let now = self.focused().await;
            if now == name {
                return;
            }
            passed.push(now);
        }
        passed.dedup();
        panic!("the keyboard does not come to “{name}”, but to {passed:?}");
    }
}

/// The key of a name, as it is sent.
fn key_named(name: &str) -> Option<char> {
    let key = match name {
        "Tab" => Key::Tab,
        "Enter" => Key::Enter,
        "Space" => return Some(' '),
        "Escape" => Key::Escape,
        "Backspace" => Key::Backspace,
        "Delete" => Key::Delete,
        "Up" => Key::Up,
        "Down" => Key::Down,
        "Left" => Key::Left,
        "Right" => Key::Right,
        "Home" => Key::Home,
        "End" => Key::End,
        "PageUp" => Key::PageUp,
        "PageDown" => Key::PageDown,
        _ => return None,
    };
    Some(key.into())
}
