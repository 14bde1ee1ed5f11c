//! The fourth step: the books, which are the containers and the movements that they add up from.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0004_books", tables(), NAMES);

const NAMES: [&str; 2] = ["container", "movement"];

fn tables() -> Vec<NewTable> {
    vec![container(), movement()]
}

/// `is_live` says that something is left in it that was not thrown away; `movements` is how many
/// it has.
fn container() -> NewTable {
    NewTable::of_shop_with_names("container")
        .maybe_text("meant")
        .text("product")
        .text("source_kind")
        .text("source")
        .maybe_text("lot")
        .maybe_day("best_before")
        .number("unit_cost")
        .maybe_text("supplier")
        .number("size")
        .number("left_over")
        .number("gained")
        .time("came_at")
        .maybe_time("opened_at")
        .yes_or_no("opened_seen")
        .yes_or_no("discarded")
        .maybe_text("water")
        .maybe_day("sealed_use_by")
        .yes_or_no("is_live")
        .number("movements")
        .names("product", "product")
        .sought_by(&["product", "is_live"])
        .sought_by(&["source"])
}

/// `number` counts a container's movements from 1.
fn movement() -> NewTable {
    NewTable::of_shop("movement")
        .text("container")
        .number("number")
        .time("at")
        .text("kind")
        .text("product")
        .number("change")
        .text("effect")
        .text("source_kind")
        .text("source")
        .maybe_text("job")
        .maybe_uuid("reverses")
        .once(&["container", "number"])
        .names("container", "container")
        .sought_by(&["source"])
        .sought_by(&["job"])
}
