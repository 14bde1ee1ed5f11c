//! The walk with curl that the README shows, run as it stands there, and the longer one around it.

#![allow(clippy::unwrap_used)]

use std::process::Command;

/// Needs bash and curl; without them it passes over.
#[test]
fn nothing_surprises_on_the_walk() {
    let there = |program: &str| Command::new(program).arg("--version").output().is_ok();
    if !there("bash") || !there("curl") {
        return;
    }
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../scripts/walk");
    let mut walk = Command::new("bash");
    for (variable, _) in std::env::vars().filter(|(name, _)| name.starts_with("CAPFUL_")) {
        walk.env_remove(variable);
    }
    let walk = walk.arg(script).env("WALK_PROGRAM", env!("CARGO_BIN_EXE_capful"));
    let output = walk.output().unwrap();
    let (out, err) = (&output.stdout, &output.stderr);
    let (out, err) = (String::from_utf8_lossy(out), String::from_utf8_lossy(err));
    assert!(output.status.success(), "{out}\n{err}");
}
