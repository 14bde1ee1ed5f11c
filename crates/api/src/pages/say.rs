//! What the pages say, in one place: `text/en/*.ftl`, one file for each part.
//!
//! A text is found by its name. Another language is another directory of the same names.

use std::fmt;
use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use unic_langid::langid;

/// The files, each with the texts of one part.
const FILES: [(&str, &str); 8] = [
    ("frame", include_str!("../../text/en/frame.ftl")),
    ("deeds", include_str!("../../text/en/deeds.ftl")),
    ("people", include_str!("../../text/en/people.ftl")),
    ("jobs", include_str!("../../text/en/jobs.ftl")),
    ("orders", include_str!("../../text/en/orders.ftl")),
    ("setup", include_str!("../../text/en/setup.ftl")),
    ("shelf", include_str!("../../text/en/shelf.ftl")),
    ("today", include_str!("../../text/en/today.ftl")),
];

/// The texts of one language.
pub(crate) struct Words(FluentBundle<FluentResource>);

static ENGLISH: LazyLock<Words> = LazyLock::new(Words::english);

/// The texts in English.
pub(crate) fn words() -> &'static Words {
    &ENGLISH
}

impl fmt::Debug for Words {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Words")
    }
}

impl Words {
    fn english() -> Self {
        let mut bundle = FluentBundle::new_concurrent(vec![langid!("en")]);
        // Marks around what is put in are for texts of both directions.
        bundle.set_use_isolating(false);
        for (file, text) in FILES {
            let resource =
                FluentResource::try_new(text.to_owned()).unwrap_or_else(|(read, wrong)| {
                    tracing::error!(file, ?wrong, "a text cannot be read");
                    read
                });
            bundle.add_resource_overriding(resource);
        }
        Self(bundle)
    }

    /// A text by its name.
    pub(crate) fn say<'w>(&'w self, name: &'w str) -> Saying<'w> {
        Saying { words: self, name, values: FluentArgs::new() }
    }

    /// Whether there is such a text.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.0.has_message(name)
    }
}

/// A field of a form as people call it; where it has no such text, as programs do.
pub(crate) fn field(name: &str) -> String {
    let text = format!("field-{}", name.replace('_', "-"));
    if words().has(&text) { words().say(&text).to_string() } else { name.to_owned() }
}

/// A text that is still to be told what stands in it.
pub(crate) struct Saying<'w> {
    words: &'w Words,
    name: &'w str,
    values: FluentArgs<'w>,
}

impl<'w> Saying<'w> {
    /// Puts a value in.
    pub(crate) fn with(mut self, name: &'w str, value: impl fmt::Display) -> Self {
        let text = value.to_string();
        // A whole number chooses between one and many.
        let value = match text.parse::<i64>() {
            Ok(number) => FluentValue::from(number),
            Err(_) => FluentValue::from(text),
        };
        self.values.set(name, value);
        self
    }
}

impl fmt::Display for Saying<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bundle = &self.words.0;
        let Some(pattern) = bundle.get_message(self.name).and_then(|message| message.value())
        else {
            return f.write_str(self.name);
        };
        let mut wrong = Vec::new();
        f.write_str(&bundle.format_pattern(pattern, Some(&self.values), &mut wrong))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn every_file_can_be_read() {
        for (file, text) in FILES {
            let wrong = FluentResource::try_new(text.to_owned()).map_err(|(_, wrong)| wrong);
            assert!(wrong.is_ok(), "{file}: {:?}", wrong.err());
        }
    }

    #[test]
    fn fields_are_called_as_people_call_them() {
        assert_eq!(field("container_size"), "A full container holds");
        assert_eq!(field("no_such_field"), "no_such_field");
    }

    #[test]
    fn no_two_texts_have_one_name() {
        let names = FILES.iter().flat_map(|(_, text)| text.lines());
        let names = names.filter(|line| line.starts_with(|first: char| first.is_alphabetic()));
        let mut names: Vec<&str> = names.filter_map(|line| line.split(" =").next()).collect();
        let number = names.len();
        names.sort_unstable();
        let twice: Vec<&[&str]> = names.windows(2).filter(|two| two[0] == two[1]).collect();
        assert!(twice.is_empty() && number > 100, "{number}: {twice:?}");
    }

    /// Names in quotes behind `say(`, in templates and in code.
    fn said(text: &str) -> impl Iterator<Item = &str> {
        text.split("say(\"").skip(1).filter_map(|rest| rest.split('"').next())
    }

    /// The files of a folder and of those in it.
    fn files(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
        let mut all = Vec::new();
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { all.extend(files(&path)) } else { all.push(path) }
        }
        all
    }

    #[test]
    fn every_text_that_is_said_is_there() {
        let own = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut checked = 0;
        for file in files(&own.join("templates")).into_iter().chain(files(&own.join("src/pages"))) {
            let text = std::fs::read_to_string(&file).unwrap();
            for name in said(&text).filter(|name| !name.contains(['{', '\n', ' '])) {
                assert!(words().has(name), "{}: no text is called {name:?}", file.display());
                checked += 1;
            }
        }
        assert!(checked > 20, "only {checked} texts are said");
    }
}
