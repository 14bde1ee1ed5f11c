//! The first step: what a shop is set up with.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all, step};

step!("m0001_setup", tables(), NAMES);

const NAMES: [&str; 7] =
    ["shop", "product", "ratio", "supplier", "offer", "job_type", "usage_sheet"];

fn tables() -> Vec<NewTable> {
    vec![shop(), product(), ratio(), supplier(), offer(), job_type(), usage_sheet()]
}

fn shop() -> NewTable {
    NewTable::of_shop("shop")
        .text("name")
        .text("timezone")
        .text("currency")
        .text("units")
        .text("order_weekday")
        .text("closed")
        .text("closed_days")
        .number("stall_cost")
        .text("holding_rate")
        .text("service")
        .maybe_number("budget")
        .text("size_factors")
        .text("condition_factors")
        .number("version")
        .once(&[])
}

fn product() -> NewTable {
    NewTable::of_shop_with_names("product")
        .text("name")
        .text("unit")
        .text("container_size")
        .text("container_unit")
        .maybe_text("category")
        .text("form")
        .maybe_number("shelf_days")
        .maybe_number("open_days")
        .maybe_number("mix_days")
        .maybe_text("density_g_ml")
        .maybe_text("tare_g")
        .maybe_text("gtin")
        .text("hazards")
        .text("protection")
        .text("substitutes")
        .maybe_text("notes")
        .number("version")
        .belongs_to_shop()
}

fn ratio() -> NewTable {
    NewTable::of_shop_with_names("ratio")
        .text("product")
        .text("label")
        .text("water")
        .number("version")
        .names("product", "product")
}

fn supplier() -> NewTable {
    NewTable::of_shop_with_names("supplier")
        .text("name")
        .text("lead_days")
        .maybe_text("lead_days_sd")
        .text("order_weekdays")
        .number("freight")
        .maybe_number("free_freight_over")
        .number("minimum_order")
        .number("version")
        .belongs_to_shop()
}

fn offer() -> NewTable {
    NewTable::of_shop_with_names("offer")
        .text("supplier")
        .text("product")
        .number("pack")
        .number("price")
        .maybe_text("code")
        .number("minimum_packs")
        .yes_or_no("preferred")
        .number("version")
        .names("supplier", "supplier")
        .names("product", "product")
}

fn job_type() -> NewTable {
    NewTable::of_shop_with_names("job_type")
        .text("name")
        .maybe_number("price")
        .maybe_number("stall_cost")
        .maybe_number("return_days")
        .maybe_text("return_share")
        .maybe_text("return_job_type")
        .number("version")
        .belongs_to_shop()
}

fn usage_sheet() -> NewTable {
    NewTable::of_shop_with_names("usage_sheet")
        .text("job_type")
        .text("product")
        .text("quantity")
        .text("unit")
        .maybe_text("water")
        .maybe_text("share_of_jobs")
        .maybe_text("log_sd")
        .number("version")
        .names("job_type", "job_type")
        .names("product", "product")
}
