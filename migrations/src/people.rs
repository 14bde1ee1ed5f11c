//! The ninth step: who signs in, for how long, and who did what.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0009_people", tables(), NAMES);

const NAMES: [&str; 3] = ["person", "session", "deed"];

fn tables() -> Vec<NewTable> {
    vec![person(), session(), deed()]
}

/// `known_as` is what a person signs in with, in small letters, and their id once they have ended.
fn person() -> NewTable {
    NewTable::of_shop("person")
        .text("sign_in")
        .text("known_as")
        .text("name")
        .text("role")
        .text("password_hash")
        .number("failures")
        .maybe_time("may_try_at")
        .time("made_at")
        .maybe_time("ended_at")
        .belongs_to_shop()
        .known_by("known_as")
}

fn session() -> NewTable {
    NewTable::of_shop("session")
        .uuid("person")
        .text("hash")
        .time("made_at")
        .time("expires_at")
        .maybe_time("ended_at")
        .names_by_id("person", "person")
        .known_by("hash")
        .sought_by(&["person"])
}

/// `about` is the id of what was changed, `written` what is needed to undo it.
fn deed() -> NewTable {
    NewTable::of_shop("deed")
        .time("at")
        .text("by_kind")
        .maybe_uuid("by_id")
        .text("what")
        .text("about")
        .text("written")
        .maybe_time("undone_at")
        .belongs_to_shop()
}
