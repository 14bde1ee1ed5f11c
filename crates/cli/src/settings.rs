//! How the program is set: what is built in, then a file, then the environment, then flags. Read
//! once, when the program starts.

use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use capful_api::{Network, NotAPublicUrl, PublicUrl};
use capful_forecast::PlanSettings;
use capful_store::{BackupKeep, Retention};
use chrono::TimeDelta;
use serde::{Deserialize, Serialize};

use crate::answer::Failure;
use crate::nightly::Copies;
use crate::settings_file::{self, Given};

/// Read where no other file is named and it lies in the current directory.
pub const FILE: &str = "capful.toml";

/// Begins the names of the environment's settings.
const PREFIX: &str = "CAPFUL_";

/// Variables of the environment that stand for flags of their own, and are no settings.
const FLAGS: [&str; 2] = ["config", "token"];

/// Futures that a plan may draw: fewer say too little, more take too long.
const FUTURES: RangeInclusive<u32> = 50..=20_000;

/// The longest that something is kept which is not kept for ever.
const MOST_DAYS: u32 = 36_500;

/// How the program is set. `config/capful.toml` says the same to whoever sets it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Where the service listens.
    pub listen: String,
    /// Where the shop is kept.
    pub database: String,
    /// The directory that a copy of the database is written into each night; empty for none.
    pub backup_dir: String,
    /// How many of these copies are kept.
    pub backup_keep: String,
    /// How the log is written.
    pub log_format: LogFormat,
    /// What is logged.
    pub log_level: String,
    /// Seconds that a request may take.
    pub request_seconds: u32,
    /// The largest body of a request, in KiB.
    pub body_limit_kib: u32,
    /// The largest body of an import, in KiB.
    pub import_limit_kib: u32,
    /// Days that the audit log is kept; 0: for ever.
    pub audit_keep_days: u32,
    /// Seconds that requests in flight have to end once the service is asked to stop.
    pub shutdown_seconds: u32,
    /// Proxies that are believed where they tell who asked them.
    pub trusted_proxies: Vec<String>,
    /// Where browsers reach the service; empty: at `listen`.
    pub public_url: String,
    /// Connections that are open at once; the rest wait.
    pub connections: u32,
    /// Seconds in which a request's head must be whole; an idle connection ends after them.
    pub head_seconds: u32,
    /// Seconds that a request's body, or the taking of its answer, may pause.
    pub pause_seconds: u32,
    /// Seconds in which a request's body must be whole.
    pub body_seconds: u32,
    /// The seed of the futures of `capful plan`.
    pub seed: u64,
    /// Futures that a plan draws.
    pub futures: u32,
}

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LogFormat {
    /// Text on a terminal, JSON elsewhere.
    Auto,
    /// One object on a line.
    Json,
    /// For people.
    Text,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            listen: "127.0.0.1:8080".to_owned(),
            database: "sqlite://capful.db".to_owned(),
            backup_dir: String::new(),
            backup_keep: "7d 4w 12m".to_owned(),
            log_format: LogFormat::Auto,
            log_level: "info".to_owned(),
            request_seconds: 30,
            body_limit_kib: 1024,
            import_limit_kib: 65536,
            audit_keep_days: 0,
            shutdown_seconds: 10,
            trusted_proxies: Vec::new(),
            public_url: String::new(),
            connections: 512,
            head_seconds: 20,
            pause_seconds: 10,
            body_seconds: 25,
            seed: 1,
            futures: PlanSettings::default().futures,
        }
    }
}

/// Settings that were given on the command line.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    /// Where the service listens.
    pub listen: Option<String>,
    /// Where the shop is kept.
    pub database: Option<String>,
    /// The seed.
    pub seed: Option<u64>,
}

impl Flags {
    fn replace(&self, settings: &mut Settings) {
        if let Some(listen) = &self.listen {
            settings.listen.clone_from(listen);
        }
        if let Some(database) = &self.database {
            settings.database.clone_from(database);
        }
        if let Some(seed) = self.seed {
            settings.seed = seed;
        }
    }
}

impl Settings {
    /// The settings: `file`, else [`FILE`] where it is there, then the environment, then `flags`.
    ///
    /// # Errors
    /// [`Failure::Settings`] with everything that is wrong and the place where it stands.
    pub fn read(file: Option<&Path>, flags: &Flags) -> Result<Self, Failure> {
        let file = match file {
            Some(file) => Some(file.to_owned()),
            None => Some(PathBuf::from(FILE)).filter(|file| file.exists()),
        };
        let read = file.map_or_else(|| Ok(Vec::new()), |file| settings_file::read(&file));
        let mut given = read.map_err(|line| Failure::Settings { lines: vec![line] })?;
        given.extend(environment());
        let (mut settings, mut lines) = Self::of(&given);
        flags.replace(&mut settings);
        let place = |key| given.iter().rfind(|own| own.key == key).map(|own| own.place.clone());
        let wrong = settings.wrong().into_iter();
        lines.extend(wrong.map(|(key, text)| {
            let place = place(key).unwrap_or_else(|| format!("--{key}"));
            format!("{place}: {key}: {text}")
        }));
        if lines.is_empty() { Ok(settings) } else { Err(Failure::Settings { lines }) }
    }

    /// The defaults with what was given in their place, the last of a key; and a line for each that
    /// is no setting, or cannot be read as one.
    fn of(given: &[Given]) -> (Self, Vec<String>) {
        let (mut settings, mut lines) = (Self::default(), Vec::new());
        for Given { key, value, place } in given {
            let mut table = settings.table();
            if !table.contains_key(key) {
                let names: Vec<&str> = table.keys().map(String::as_str).collect();
                let names = names.join(", ");
                lines.push(format!("{place}: found {key:?}, expected one of the settings {names}"));
                continue;
            }
            table.insert(key.clone(), value.clone());
            match table.try_into() {
                Ok(replaced) => settings = replaced,
                Err(error) => lines.push(format!("{place}: {key}: {}", error.message())),
            }
        }
        (settings, lines)
    }

    /// Every setting by its name.
    fn table(&self) -> toml::Table {
        // A seed that TOML cannot hold is a flag's, which comes last.
        toml::Table::try_from(self).unwrap_or_default()
    }

    /// How plans are made.
    #[must_use]
    pub fn plan(&self) -> PlanSettings {
        PlanSettings { futures: self.futures }
    }

    /// The proxies that are believed; those that cannot be read were found wrong before.
    #[must_use]
    pub fn trusted_proxies(&self) -> Vec<Network> {
        self.trusted_proxies.iter().filter_map(|text| text.parse().ok()).collect()
    }

    /// Where browsers reach the service, where that is not the address it listens on.
    ///
    /// # Errors
    /// [`NotAPublicUrl`] where the setting is none.
    pub fn public_url(&self) -> Result<Option<PublicUrl>, NotAPublicUrl> {
        let text = Some(self.public_url.as_str()).filter(|text| !text.is_empty());
        text.map(str::parse).transpose()
    }

    /// How long is kept what the books do not need.
    #[must_use]
    pub fn retention(&self) -> Retention {
        let days = TimeDelta::days(self.audit_keep_days.into());
        let audit = (self.audit_keep_days > 0).then_some(days);
        Retention { audit, ..Retention::default() }
    }

    /// Where copies are kept that the service makes by itself, and which; nothing where it makes
    /// none.
    pub(crate) fn copies(&self) -> Option<Copies> {
        let directory = Some(&self.backup_dir).filter(|directory| !directory.is_empty())?;
        let keep = self.backup_keep.parse().ok()?;
        Some(Copies { directory: directory.into(), keep })
    }

    /// What is of the right type, and wrong all the same: each setting, and what would be right.
    fn wrong(&self) -> Vec<(&'static str, String)> {
        let mut wrong = Vec::new();
        let spans = [
            ("request_seconds", self.request_seconds),
            ("connections", self.connections),
            ("head_seconds", self.head_seconds),
            ("pause_seconds", self.pause_seconds),
            ("body_seconds", self.body_seconds),
            ("body_limit_kib", self.body_limit_kib),
            ("import_limit_kib", self.import_limit_kib),
        ];
        for (key, value) in spans {
            if value == 0 {
                wrong.push((key, "found 0, expected 1 or more".to_owned()));
            }
        }
        if let Err(error) = self.public_url() {
            wrong.push(("public_url", format!("found {:?}, expected {error}", self.public_url)));
        }
        if self.audit_keep_days > MOST_DAYS {
            let text = format!("found {}, expected at most {MOST_DAYS}", self.audit_keep_days);
            wrong.push(("audit_keep_days", text));
        }
        if !FUTURES.contains(&self.futures) {
            let (least, most) = (FUTURES.start(), FUTURES.end());
            let text = format!("found {}, expected from {least} to {most}", self.futures);
            wrong.push(("futures", text));
        }
        let proxies = self.trusted_proxies.iter().map(|text| text.parse::<Network>());
        wrong.extend(proxies.filter_map(Result::err).map(|text| ("trusted_proxies", text)));
        if let Err(text) = self.backup_keep.parse::<BackupKeep>() {
            wrong.push(("backup_keep", text));
        }
        if let Err(error) = tracing_subscriber::EnvFilter::try_new(&self.log_level) {
            let level = &self.log_level;
            wrong.push((
                "log_level",
                format!("found {level:?}, expected such as \"info\" ({error})"),
            ));
        }
        wrong
    }
}

/// What the environment sets.
fn environment() -> Vec<Given> {
    let given = std::env::vars_os().filter_map(|(name, text)| {
        let name = name.into_string().ok()?;
        let key = name.strip_prefix(PREFIX)?.to_lowercase();
        let value = value_of(&key, &text.to_string_lossy());
        (!FLAGS.contains(&key.as_str())).then_some(Given { key, value, place: name })
    });
    given.collect()
}

/// A variable's text as the setting is written in the file: text stands without quotes.
fn value_of(key: &str, text: &str) -> toml::Value {
    let plain = toml::Value::String(text.to_owned());
    if Settings::default().table().get(key).is_some_and(toml::Value::is_str) {
        return plain;
    }
    let read = format!("value = {text}").parse::<toml::Table>();
    read.ok().and_then(|mut table| table.remove("value")).unwrap_or(plain)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_commented_file_holds_every_setting_with_its_default() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../config/capful.toml");
        let text = std::fs::read_to_string(path).unwrap();
        let is_setting = |line: &&str| line.starts_with("# ") && line.contains(" = ");
        let taken: Vec<&str> = text.lines().filter(is_setting).map(|line| &line[2..]).collect();
        let read = toml::from_str::<Settings>(&taken.join("\n")).unwrap();
        assert_eq!(read, Settings::default());
        assert_eq!(taken.len(), Settings::default().table().len());
        let silent = text.lines().any(|line| !line.is_empty() && !line.starts_with('#'));
        assert!(!silent, "a setting is not commented out");
    }

    #[test]
    fn what_is_of_no_use_is_wrong() {
        let proxies = ["10.0.0.1", "my-proxy", "10.0.0.0/99"];
        let odd = Settings {
            futures: 0,
            log_level: "a=b=c".to_owned(),
            public_url: "shelf.example".to_owned(),
            connections: 0,
            trusted_proxies: proxies.map(str::to_owned).into(),
            ..Settings::default()
        };
        let wrong: Vec<&str> = odd.wrong().into_iter().map(|(key, _)| key).collect();
        let proxies = ["trusted_proxies"; 2];
        let expected = ["connections", "public_url", "futures"].into_iter().chain(proxies);
        assert_eq!(wrong, expected.chain(["log_level"]).collect::<Vec<_>>());
        let odd = Settings { audit_keep_days: u32::MAX, ..Settings::default() };
        assert_eq!(odd.wrong()[0].1, "found 4294967295, expected at most 36500");
    }

    #[test]
    fn the_audit_log_is_kept_for_ever_or_for_so_many_days() {
        assert_eq!(Settings::default().retention(), Retention::default());
        let year = Settings { audit_keep_days: 365, ..Settings::default() };
        assert_eq!(year.retention().audit, Some(TimeDelta::days(365)));
    }
}
