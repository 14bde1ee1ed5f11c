//! The table at the end: medians as criterion wrote them, beside their reference and beside
//! the smaller case that they grow from.

use std::fs;
use std::path::PathBuf;
use std::time::SystemTime;

use serde_json::Value;

/// A row of the table.
pub struct Line {
    /// Criterion's group.
    pub group: &'static str,
    /// What is measured.
    pub name: &'static str,
    /// The smaller case of the same, where there is one.
    pub grows_from: Option<&'static str>,
}

/// The name of the reference taken just before `name`.
pub fn reference_of(name: &str) -> String {
    format!("reference of {name}")
}

/// Where criterion writes.
pub fn directory() -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).with_file_name("criterion")
}

/// Prints what was measured since `started`. Growth compares the ratios to the references.
pub fn print(lines: &[Line], started: SystemTime) {
    let median = |group, name: &str| median_ns(group, name, started);
    let beside = |group, name| Some(median(group, name)? / median(group, &reference_of(name))?);
    println!("{:<38}{:>10}{:>12}   grows", "", "median", "reference");
    for line in lines {
        let (own, ratio) = (median(line.group, line.name), beside(line.group, line.name));
        let Some((own, ratio)) = own.zip(ratio) else { continue };
        let smaller = line.grows_from.and_then(|name| Some((name, beside(line.group, name)?)));
        let grows = smaller.map(|(name, smaller)| format!("{:.2} × {name}", ratio / smaller));
        let name = format!("{}: {}", line.group, line.name);
        let grows = grows.unwrap_or_default();
        let row = format!("{name:<38}{:>10}{ratio:>12.2}   {grows}", time(own));
        println!("{}", row.trim_end());
    }
}

/// A median in nanoseconds; none where the last run did not measure it.
fn median_ns(group: &str, name: &str, started: SystemTime) -> Option<f64> {
    let path = directory().join(group).join(name).join("new").join("estimates.json");
    let written = fs::metadata(&path).and_then(|file| file.modified()).ok()?;
    let estimates: Value = serde_json::from_slice(&fs::read(path).ok()?).ok()?;
    estimates["median"]["point_estimate"].as_f64().filter(|_| written >= started)
}

fn time(ns: f64) -> String {
    match ns {
        1e9.. => format!("{:.2} s", ns / 1e9),
        1e6.. => format!("{:.1} ms", ns / 1e6),
        _ => format!("{:.1} µs", ns / 1e3),
    }
}
