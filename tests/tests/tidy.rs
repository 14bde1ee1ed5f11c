//! The rules of this repository, held by tests.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Directories with our own text in them.
const OURS: [&str; 6] = ["crates", "tests", "scripts", "config", "migrations", ".ci"];

/// Endings of the files that people write line by line.
const WRITTEN: [&str; 10] =
    [".rs", ".md", ".py", ".js", "/test", "/run", "/bench", "/make", "/walk", "/browser"];

const MOST_COLUMNS: usize = 100;
const MOST_FUNCTION_LINES: usize = 70;
const MOST_FILE_LINES: usize = 600;

/// The only file that may read the clock.
const CLOCK: &str = "crates/cli/src/clock.rs";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// A file of ours and its text.
struct File {
    /// From the root, with `/`.
    path: String,
    text: String,
}

impl File {
    /// The lines with their numbers, from 1.
    fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text.lines().enumerate().map(|(place, line)| (place + 1, line))
    }

    /// The lines that are not tests: everything before the file's `#[cfg(test)]` module.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        let is_code = !self.path.split('/').any(|part| part == "tests" || part == "benches");
        self.lines()
            .take_while(move |(_, line)| is_code && line.trim() != "#[cfg(test)]")
            .filter(|(_, line)| !line.trim_start().starts_with("//"))
    }
}

fn files_below(directory: &Path, found: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(directory) else { return };
    for entry in entries {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files_below(&path, found);
        } else {
            found.push(path);
        }
    }
}

/// Every file of ours whose name ends with one of these.
fn files(endings: &[&str]) -> Vec<File> {
    let mut found = Vec::new();
    for directory in OURS {
        files_below(&root().join(directory), &mut found);
    }
    found.extend(["README.md", "DEVELOPERS.md", "Cargo.toml"].map(|name| root().join(name)));
    found.sort();
    let ends = |path: &Path, ending| path.to_string_lossy().replace('\\', "/").ends_with(ending);
    found.retain(|path| endings.iter().any(|ending| ends(path, ending)));
    let read = |path: PathBuf| {
        let from_root = path.strip_prefix(root()).unwrap();
        let parts: Vec<_> = from_root.iter().map(|part| part.to_string_lossy()).collect();
        // Pictures are looked through as well, as far as there are letters in them.
        let text = String::from_utf8_lossy(&fs::read(&path).unwrap()).into_owned();
        File { path: parts.join("/"), text }
    };
    found.into_iter().map(read).collect()
}

fn rust() -> Vec<File> {
    let files = files(&[".rs"]);
    assert!(files.len() > 20, "the files of this repository were not found");
    files
}

/// Every line of a file's code for which `wrong` holds.
fn code_lines(files: &[File], wrong: impl Fn(&File, &str) -> bool) -> Vec<String> {
    let wrong = &wrong;
    let of = |file: &'_ File| -> Vec<String> {
        let lines = file.code().filter(|(_, line)| wrong(file, line));
        lines.map(|(number, line)| format!("{}:{number}: {}", file.path, line.trim())).collect()
    };
    files.iter().flat_map(of).collect()
}

/// Fails with the list where there is one.
fn none(found: &[String]) {
    assert!(found.is_empty(), "\n{}\n", found.join("\n"));
}

#[test]
fn nothing_is_unwrapped_outside_tests() {
    none(&code_lines(&rust(), |_, line| {
        line.contains(".unwrap()") || line.contains(".expect(") || line.contains(".unwrap_err()")
    }));
}

#[test]
fn no_float_stands_in_the_domain() {
    none(&code_lines(&rust(), |file, line| {
        let floats = ["f32", "f64"];
        file.path.starts_with("crates/domain/src") && floats.iter().any(|f| has_word(line, f))
    }));
}

#[test]
fn the_clock_is_read_in_one_place() {
    let readings = ["Utc::now", "Local::now", "SystemTime::now", "Instant::now", "Zoned::now"];
    let reads = |line: &str| readings.iter().any(|reading| line.contains(reading));
    none(&code_lines(&rust(), |file, line| file.path != CLOCK && reads(line)));
    let clock = rust().into_iter().filter(|file| file.path == CLOCK).collect::<Vec<_>>();
    assert_eq!(code_lines(&clock, |_, line| reads(line)).len(), 1);
}

#[test]
fn chance_comes_from_a_seed() {
    let unseeded = ["from_os_rng", "from_entropy", "thread_rng", "rand::rng()", "OsRng"];
    none(&code_lines(&rust(), |_, line| unseeded.iter().any(|word| line.contains(word))));
}

#[test]
fn functions_are_short() {
    let mut long = Vec::new();
    for file in rust() {
        for (name, first, last) in functions(&file) {
            if last - first + 1 > MOST_FUNCTION_LINES {
                long.push(format!("{}:{first}: {name}: {} lines", file.path, last - first + 1));
            }
        }
    }
    none(&long);
}

/// Each function with its first and last line. In formatted code a head ends with the first brace
/// or semicolon that ends a line, and a body at the first brace that stands as far in as its `fn`.
fn functions(file: &File) -> Vec<(String, usize, usize)> {
    let lines: Vec<&str> = file.text.lines().collect();
    let mut found = Vec::new();
    for (place, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else { continue };
        let below = &lines[place..];
        let head = below.iter().find(|line| line.ends_with(['{', '}', ';']));
        let end = format!("{:indent$}}}", "", indent = line.len() - line.trim_start().len());
        let last = below.iter().position(|line| *line == end);
        match (head.is_some_and(|head| head.ends_with('{')), last) {
            (true, Some(last)) => found.push((name.to_owned(), place + 1, place + last + 1)),
            _ => continue,
        }
    }
    found
}

fn function_name(line: &str) -> Option<&str> {
    let words = ["pub ", "pub(crate) ", "pub(super) ", "const ", "async "];
    let mut rest = line.trim_start();
    while let Some(word) = words.iter().find(|word| rest.starts_with(**word)) {
        rest = &rest[word.len()..];
    }
    let name = rest.strip_prefix("fn ")?;
    name.split(|c: char| !(c.is_alphanumeric() || c == '_')).next()
}

#[test]
fn the_length_of_a_function_is_seen() {
    let text =
        "impl A {\n    pub const fn one(\n        self,\n    ) -> u8 {\n        1\n    }\n}\n";
    let file = File { path: "a.rs".to_owned(), text: text.to_owned() };
    assert_eq!(functions(&file), [("one".to_owned(), 2, 6)]);
}

#[test]
fn lines_are_short() {
    let mut long = Vec::new();
    // A row of a table cannot be broken.
    let table = |line: &str| line.starts_with('|');
    for file in files(&WRITTEN) {
        for (number, line) in file.lines() {
            if line.chars().count() > MOST_COLUMNS && !table(line) {
                long.push(format!("{}:{number}", file.path));
            }
        }
    }
    none(&long);
}

#[test]
fn files_are_short() {
    let long = rust().into_iter().filter(|file| file.text.lines().count() > MOST_FILE_LINES);
    none(&long.map(|file| file.path).collect::<Vec<_>>());
}

#[test]
fn nothing_is_left_for_later() {
    // Written in pieces, so that this file may say them.
    let words = [["TO", "DO"], ["FIX", "ME"], ["HA", "CK"]].map(|w| w.concat());
    let marks = [["#[ig", "nore"], ["todo", "!("], ["unimpl", "emented!("], ["db", "g!("]];
    let marks = marks.map(|m| m.concat());
    let mut found = Vec::new();
    for file in files(&WRITTEN) {
        for (number, line) in file.lines() {
            let word = words.iter().any(|word| has_word(line, word));
            if word || marks.iter().any(|mark| line.contains(mark)) {
                found.push(format!("{}:{number}: {}", file.path, line.trim()));
            }
        }
    }
    none(&found);
}

#[test]
fn nothing_names_somebodys_own_directory() {
    let homes = [["/ho", "me/"], ["/Us", "ers/"], ["/ro", "ot/"], ["C:\\", "Users"]];
    let homes = homes.map(|home| home.concat());
    let mut found = Vec::new();
    for file in files(&[""]) {
        for (number, line) in file.lines() {
            if homes.iter().any(|home| line.contains(home)) {
                found.push(format!("{}:{number}", file.path));
            }
        }
    }
    none(&found);
}

#[test]
fn every_source_file_says_what_it_is_for() {
    let silent = rust().into_iter().filter(|file| !file.text.starts_with("//! "));
    none(&silent.map(|file| file.path).collect::<Vec<_>>());
}

#[test]
fn every_source_file_is_reached() {
    let mut dead = Vec::new();
    let sources: BTreeSet<String> = rust().into_iter().map(|file| file.path).collect();
    let mut reached = BTreeSet::new();
    for path in &sources {
        let is_root = ["src/lib.rs", "src/main.rs"].iter().any(|name| path.ends_with(name));
        if is_root {
            reach(path, &mut reached);
        }
    }
    for path in sources.iter().filter(|path| path.contains("/src/")) {
        if !reached.contains(path) {
            dead.push(path.clone());
        }
    }
    none(&dead);
}

/// Adds a file and every file that its `mod` lines name.
fn reach(path: &str, reached: &mut BTreeSet<String>) {
    let Ok(text) = fs::read_to_string(root().join(path)) else { return };
    reached.insert(path.to_owned());
    let (directory, name) = path.rsplit_once('/').unwrap();
    let stem = name.trim_end_matches(".rs");
    let own = ["lib", "main", "mod"].contains(&stem);
    let below = if own { directory.to_owned() } else { format!("{directory}/{stem}") };
    for line in text.lines() {
        let line = line.trim();
        let line = line.strip_prefix("pub(crate) ").or(line.strip_prefix("pub ")).unwrap_or(line);
        let module = line.strip_prefix("mod ").and_then(|rest| rest.strip_suffix(';'));
        if let Some(module) = module {
            reach(&format!("{below}/{module}.rs"), reached);
            reach(&format!("{below}/{module}/mod.rs"), reached);
        }
    }
}

fn has_word(line: &str, word: &str) -> bool {
    line.split(|c: char| !(c.is_alphanumeric() || c == '_')).any(|part| part == word)
}
