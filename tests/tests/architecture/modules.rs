//! The files of a crate and which of them know which, as their paths in the code say it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// The files of a crate by their paths as modules (`learn::usage`; the crate itself is empty), each
/// with those that it names.
pub type Modules = BTreeMap<String, BTreeSet<String>>;

/// Reads a crate's source.
pub fn modules(source: &Path) -> Modules {
    let mut texts = BTreeMap::new();
    gather(source, "", &mut texts);
    let names = |own: &String, text: &String| {
        let paths = paths(own, text).into_iter();
        let known = paths.filter_map(|path| module_of(&texts, &path));
        (own.clone(), known.filter(|other| other != own).collect())
    };
    texts.iter().map(|(own, text)| names(own, text)).collect()
}

fn gather(directory: &Path, within: &str, texts: &mut BTreeMap<String, String>) {
    for entry in std::fs::read_dir(directory).unwrap() {
        let path = entry.unwrap().path();
        let stem = path.file_stem().unwrap().to_str().unwrap();
        let name = match (within, stem) {
            (within, "lib" | "main" | "mod") => within.to_owned(),
            ("", stem) => stem.to_owned(),
            (within, stem) => format!("{within}::{stem}"),
        };
        if path.is_dir() {
            gather(&path, &name, texts);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            texts.entry(name).or_default().push_str(code(&text));
        }
    }
}

/// What stands before a file's own tests.
fn code(text: &str) -> &str {
    text.find("\nmod tests {").map_or(text, |end| &text[..end])
}

/// The module that a path leads to: as much of it as is a file.
fn module_of(texts: &BTreeMap<String, String>, path: &str) -> Option<String> {
    let mut path = path;
    loop {
        if texts.contains_key(path) {
            return Some(path.to_owned());
        }
        path = path.rsplit_once("::").map_or("", |(start, _)| start);
    }
}

/// Every path from the crate, from the file's own folder or from the file, seen from the crate.
fn paths(own: &str, text: &str) -> BTreeSet<String> {
    let lines = text.lines().map(|line| line.split("//").next().unwrap_or_default());
    let text = lines.collect::<Vec<_>>().join("\n");
    let mut found = BTreeSet::new();
    for start in ["crate::", "super::", "self::"] {
        for (at, _) in text.match_indices(start) {
            let before = text[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            for path in unfolded(&text[at..]) {
                found.extend(absolute(own, &path));
            }
        }
    }
    found
}

/// The paths that begin here: one, or one for each name between braces.
fn unfolded(text: &str) -> Vec<String> {
    let is_path = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
    let end = text.find(|c| !is_path(c)).unwrap_or(text.len());
    let (path, rest) = text.split_at(end);
    let Some(inside) = rest.strip_prefix('{').filter(|_| path.ends_with("::")) else {
        return vec![path.to_owned()];
    };
    let (mut depth, mut start, mut parts) = (0, 0, Vec::new());
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                parts.push(inside[start..at].trim());
                start = at + 1;
                if c == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    parts.into_iter().flat_map(unfolded).map(|part| format!("{path}{part}")).collect()
}

fn absolute(own: &str, path: &str) -> Option<String> {
    let mut from: Vec<&str> = own.split("::").filter(|part| !part.is_empty()).collect();
    let mut parts = path.split("::").peekable();
    match parts.peek() {
        Some(&"crate") => {
            parts.next();
            from.clear();
        }
        Some(&"super" | &"self") => {}
        _ => return None,
    }
    while let Some(&("super" | "self")) = parts.peek() {
        if parts.next() == Some("super") {
            from.pop();
        }
    }
    from.extend(parts.filter(|part| !part.is_empty()));
    Some(from.join("::"))
}

/// The folder right below the crate that a module stands in, or the file there.
pub fn folder_of(module: &str) -> &str {
    module.split("::").next().unwrap_or_default()
}

/// Files that know each other, each group of them by way of the others.
pub fn circles(modules: &Modules) -> Vec<BTreeSet<&str>> {
    let reached: BTreeMap<&str, BTreeSet<&str>> =
        modules.keys().map(|own| (own.as_str(), reached_from(modules, own))).collect();
    let mut found = BTreeSet::new();
    for (own, others) in &reached {
        let with = others.iter().filter(|other| reached[*other].contains(own));
        let circle: BTreeSet<&str> = with.copied().collect();
        if circle.len() > 1 {
            found.insert(circle);
        }
    }
    found.into_iter().collect()
}

fn reached_from<'m>(modules: &'m Modules, own: &str) -> BTreeSet<&'m str> {
    let mut reached = BTreeSet::new();
    let mut next: Vec<&str> = modules[own].iter().map(String::as_str).collect();
    while let Some(module) = next.pop() {
        if reached.insert(module) {
            next.extend(modules[module].iter().map(String::as_str));
        }
    }
    reached
}

#[test]
fn paths_are_read_as_the_compiler_reads_them() {
    let text = "use crate::a::{b::C, d::{E, f}};\n// use crate::not;\nlet x = super::g::h();";
    let found: Vec<String> = paths("one::two", text).into_iter().collect();
    assert_eq!(found, ["a::b::C", "a::d::E", "a::d::f", "one::g::h"]);
}

#[test]
fn a_circle_is_found() {
    let knows = |own: &str, others: &[&str]| {
        (own.to_owned(), others.iter().map(|&other| other.to_owned()).collect())
    };
    let all = Modules::from([knows("a", &["b"]), knows("b", &["c"]), knows("c", &["b"])]);
    assert_eq!(circles(&all), [BTreeSet::from(["b", "c"])]);
}
