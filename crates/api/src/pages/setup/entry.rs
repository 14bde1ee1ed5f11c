//! The fields of a form that sets something up: each with its label, a sentence on what it does,
//! what is wrong with it, and what somebody else has saved there meanwhile.

use crate::pages::form::Fields;
use crate::pages::say::words;
use crate::problem::Problem;

/// A field, or several boxes to tick under one name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry {
    pub name: &'static str,
    /// What its label and its texts are found by on the page.
    pub id: String,
    pub label: String,
    pub help: String,
    /// `text`, `number`, `long`, `choice`, `choices` or `ticks`.
    pub kind: &'static str,
    pub value: String,
    pub choices: Vec<Choice>,
    /// What is chosen, one behind the other, where several of `choices` are.
    pub slots: Vec<String>,
    /// Whether something has to stand there.
    pub must: bool,
    pub wrong: String,
    /// What is saved there now, where that is something else than was typed.
    pub saved: Option<String>,
}

/// One of several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Choice {
    pub value: String,
    pub label: String,
    pub on: bool,
}

/// The fields of a form as they are put together.
#[derive(Debug)]
pub(super) struct Entries<'f> {
    /// What the names of its texts begin with.
    form: &'static str,
    fields: &'f Fields,
    wrong: Option<&'f Problem>,
    saved: Option<&'f Fields>,
    all: Vec<Entry>,
}

impl<'f> Entries<'f> {
    /// Of a form whose texts are called `FORM-FIELD`.
    pub(super) fn of(form: &'static str, editing: &'f super::saving::Editing) -> Self {
        let (fields, wrong) = (&editing.fields, editing.wrong.as_ref());
        Self { form, fields, wrong, saved: editing.saved.as_ref(), all: Vec::new() }
    }

    /// A text that has to be there.
    pub(super) fn must(mut self, name: &'static str) -> Self {
        let entry = Entry { must: true, ..self.entry(name, "text") };
        self.all.push(entry);
        self
    }

    /// A text.
    pub(super) fn text(mut self, name: &'static str) -> Self {
        let entry = self.entry(name, "text");
        self.all.push(entry);
        self
    }

    /// A number.
    pub(super) fn number(mut self, name: &'static str) -> Self {
        let entry = self.entry(name, "number");
        self.all.push(entry);
        self
    }

    /// A number that has to be there.
    pub(super) fn must_number(mut self, name: &'static str) -> Self {
        let entry = Entry { must: true, ..self.entry(name, "number") };
        self.all.push(entry);
        self
    }

    /// A text of several lines.
    pub(super) fn long(mut self, name: &'static str) -> Self {
        let entry = self.entry(name, "long");
        self.all.push(entry);
        self
    }

    /// One of these.
    pub(super) fn choice(self, name: &'static str, of: &[(String, String)]) -> Self {
        let is_on = |fields: &Fields, value: &str| fields.shown(name) == value;
        self.several(name, "choice", of, is_on)
    }

    /// Any of these.
    pub(super) fn ticks(self, name: &'static str, of: &[(String, String)]) -> Self {
        self.several(name, "ticks", of, |fields, value| fields.ticked(name, value))
    }

    fn several(
        mut self,
        name: &'static str,
        kind: &'static str,
        of: &[(String, String)],
        is_on: impl Fn(&Fields, &str) -> bool,
    ) -> Self {
        let choices = of.iter().map(|(value, label)| Choice {
            on: is_on(self.fields, value),
            value: value.clone(),
            label: label.clone(),
        });
        let choices = choices.collect();
        let entry = Entry { choices, ..self.entry(name, kind) };
        self.all.push(entry);
        self
    }

    /// The fields.
    pub(super) fn end(self) -> Vec<Entry> {
        self.all
    }

    fn entry(&self, name: &'static str, kind: &'static str) -> Entry {
        let t = words();
        let id = format!("{}-{}", self.form, name.replace(['.', '_'], "-"));
        let help = format!("{id}-help");
        let now: Option<Vec<&str>> = self.saved.map(|saved| saved.all(name).collect());
        let typed: Vec<&str> = self.fields.all(name).collect();
        Entry {
            name,
            label: t.say(&id).to_string(),
            help: if t.has(&help) { t.say(&help).to_string() } else { String::new() },
            kind,
            value: typed.join("\n"),
            choices: Vec::new(),
            slots: Vec::new(),
            must: false,
            wrong: self.wrong.map(|wrong| told(wrong, name)).unwrap_or_default(),
            saved: now.filter(|now| !is_same(now, &typed)).map(|now| match now.join(", ") {
                none if none.is_empty() => t.say("setup-clash-nothing").to_string(),
                text => text,
            }),
            id,
        }
    }
}

/// Whether two lists of texts say the same, however their lines are broken.
fn is_same(one: &[&str], other: &[&str]) -> bool {
    let words = |all: &[&str]| all.join("\n").split_whitespace().map(str::to_owned).collect();
    let (one, other): (Vec<String>, Vec<String>) = (words(one), words(other));
    one == other
}

/// What is wrong with a field.
pub(super) fn told(wrong: &Problem, name: &str) -> String {
    let is_own = |field: &str| field.split('[').next() == Some(name);
    let own = wrong.errors.iter().filter(|error| is_own(&error.field));
    let own: Vec<&str> = own.map(|error| error.detail.as_str()).collect();
    match &wrong.field {
        Some(field) if own.is_empty() && is_own(field) => wrong.detail.clone(),
        _ => own.join("; "),
    }
}

/// Words of a list, each with its text `PREFIX-WORD`.
pub(super) fn words_of(prefix: &str, all: &[&str]) -> Vec<(String, String)> {
    let text = |word: &&str| words().say(&format!("{prefix}-{word}")).to_string();
    all.iter().map(|word| ((*word).to_owned(), text(word))).collect()
}

#[cfg(test)]
mod tests {
    use super::super::saving::Editing;
    use super::*;
    use crate::problem::{Kind, OneError};

    #[test]
    fn what_is_wrong_stands_at_its_field() {
        let error =
            |field: &str| OneError { field: field.to_owned(), detail: format!("of {field}") };
        let errors = vec![error("closed_days[1]"), error("closed"), error("closed_days[2]")];
        let wrong = Problem { errors, ..Problem::new(Kind::BadBody, "3 fields") };
        assert_eq!(told(&wrong, "closed_days"), "of closed_days[1]; of closed_days[2]");
        assert_eq!(told(&wrong, "closed"), "of closed");
        assert_eq!(told(&Problem::field("name", "a text"), "name"), "a text");
    }

    #[test]
    fn what_somebody_else_saved_is_told_where_it_differs() {
        let fields = Fields::read(b"name=Soap&category=wash");
        let saved = Some(Fields::read(b"name=Soap%2C+5+L&category=wash"));
        let editing = Editing { fields, saved, ..Editing::default() };
        let all = Entries::of("product", &editing).must("name").text("category").end();
        assert_eq!(all[0].saved.as_deref(), Some("Soap, 5 L"));
        assert_eq!(all[0].value, "Soap");
        assert_eq!(all[1].saved, None);
    }
}
