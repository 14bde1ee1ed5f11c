//! The fifth step: what the service itself keeps, which is the answers it gave and who may ask.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0005_service", tables(), NAMES);

const NAMES: [&str; 2] = ["idempotency", "token"];

fn tables() -> Vec<NewTable> {
    vec![idempotency(), token()]
}

fn idempotency() -> NewTable {
    NewTable::of_shop_with_names("idempotency")
        .text("fingerprint")
        .number("status")
        .text("body")
        .time("made_at")
        .belongs_to_shop()
        .sought_by(&["made_at"])
}

fn token() -> NewTable {
    NewTable::of_shop("token")
        .text("hash")
        .text("scope")
        .text("label")
        .time("made_at")
        .maybe_time("expires_at")
        .maybe_time("revoked_at")
        .belongs_to_shop()
        .known_by("hash")
}
