//! The second step: the calendar of jobs, and the orders.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0002_calendar", tables(), NAMES);

const NAMES: [&str; 3] = ["job", "purchase_order", "order_line"];

fn tables() -> Vec<NewTable> {
    vec![job(), purchase_order(), order_line()]
}

fn job() -> NewTable {
    NewTable::of_shop_with_names("job")
        .time("booked_at")
        .day("planned_on")
        .text("status")
        .text("job_types")
        .text("size")
        .number("condition")
        .maybe_time("started_at")
        .maybe_time("finished_at")
        .maybe_time("cancelled_at")
        .maybe_text("vehicle")
        .maybe_number("price")
        .number("version")
        .belongs_to_shop()
        .sought_by(&["planned_on"])
}

fn purchase_order() -> NewTable {
    NewTable::of_shop_with_names("purchase_order")
        .time("placed_at")
        .text("supplier")
        .maybe_text("status")
        .number("version")
        .names("supplier", "supplier")
}

fn order_line() -> NewTable {
    NewTable::of_shop("order_line")
        .text("order_id")
        .text("product")
        .number("packs")
        .maybe_text("supplier_code")
        .names("order_id", "purchase_order")
        .names("product", "product")
        .sought_by(&["order_id"])
}
