//! The third step: what happened on the shelf, as it was written down.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0003_rows", tables(), NAMES);

const NAMES: [&str; 6] = ["pour", "receipt", "opening", "discard", "mix", "count"];

fn tables() -> Vec<NewTable> {
    vec![pour(), receipt(), opening(), discard(), mix(), count()]
}

/// A row of one product at one moment, that may be reversed.
fn row(name: &'static str) -> NewTable {
    NewTable::of_shop_with_names(name)
        .time("at")
        .text("product")
        .maybe_time("reversed_at")
        .names("product", "product")
}

fn pour() -> NewTable {
    row("pour")
        .text("quantity")
        .text("unit")
        .maybe_text("job")
        .maybe_text("water")
        .maybe_text("container")
        .maybe_text("method")
        .names("job", "job")
        .sought_by(&["job"])
}

fn receipt() -> NewTable {
    row("receipt")
        .number("containers")
        .number("unit_cost")
        .maybe_text("supplier")
        .maybe_text("lot")
        .maybe_day("best_before")
        .maybe_text("order_id")
        .maybe_text("container_size")
        .names("supplier", "supplier")
        .names("order_id", "purchase_order")
        .sought_by(&["lot"])
}

fn opening() -> NewTable {
    row("opening").maybe_text("container")
}

fn discard() -> NewTable {
    row("discard")
        .maybe_text("quantity")
        .maybe_text("unit")
        .maybe_text("container")
        .maybe_text("reason")
}

fn mix() -> NewTable {
    row("mix").text("quantity").text("unit").text("water").maybe_text("container")
}

fn count() -> NewTable {
    row("count")
        .maybe_text("quantity")
        .maybe_text("unit")
        .maybe_text("gross_g")
        .maybe_text("container")
        .maybe_number("sealed")
        .maybe_text("sd_share")
}
