//! The store's tables, step by step: one schema for SQLite and for PostgreSQL.
//!
//! Every table belongs to a shop: its key is `(shop_id, id)`, its rows name each other by the
//! shop's own ids. Each step goes up and down in a transaction of its own.

mod books;
mod calendar;
mod last_rows;
mod people;
mod rows;
mod service;
mod setup;
mod sign_in;
mod sought;
mod stamp;
mod table;

use sea_orm_migration::{MigrationTrait, MigratorTrait};

/// All steps, in their order.
#[derive(Debug)]
pub struct Migrator;

impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(setup::Step),
            Box::new(calendar::Step),
            Box::new(rows::Step),
            Box::new(books::Step),
            Box::new(service::Step),
            Box::new(sought::Step),
            Box::new(last_rows::Step),
            Box::new(stamp::Step),
            Box::new(people::Step),
            Box::new(sign_in::Step),
        ]
    }
}
