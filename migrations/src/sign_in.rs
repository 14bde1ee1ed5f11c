//! The tenth step: what signing in is held to. Tries are counted for people who are there and for
//! names that nobody has alike, browsers are known again, a session says from where it is, and a
//! token who made it.

use sea_orm_migration::prelude::*;

use crate::table::{NewTable, create, drop_all};

/// This step.
pub(crate) struct Step;

const NAMES: [&str; 2] = ["sign_in_try", "device"];

/// Columns of a session: from which device and address, when it was last seen, and when its person
/// last gave the password.
const OF_SESSION: [&str; 4] = ["device", "address", "seen_at", "confirmed_at"];

/// Of no shop: whoever signs in names none.
fn sign_in_try() -> NewTable {
    NewTable::of_shop("sign_in_try").number("failures").maybe_time("may_try_at").time("last_at")
}

/// Browsers that somebody signed in with before, kept as hashes of what they hold.
fn device() -> NewTable {
    NewTable::of_shop("device")
        .uuid("person")
        .text("hash")
        .time("seen_at")
        .names_by_id("person", "person")
        .known_by("hash")
        .sought_by(&["person"])
}

fn text(name: &'static str) -> ColumnDef {
    ColumnDef::new(name).text().not_null().default("").take()
}

fn moment(name: &'static str) -> ColumnDef {
    ColumnDef::new(name).timestamp_with_time_zone().take()
}

async fn add(
    manager: &SchemaManager<'_>,
    table: &'static str,
    column: ColumnDef,
) -> Result<(), DbErr> {
    manager.alter_table(Table::alter().table(table).add_column(column).take()).await
}

async fn drop(
    manager: &SchemaManager<'_>,
    table: &'static str,
    column: &'static str,
) -> Result<(), DbErr> {
    manager.alter_table(Table::alter().table(table).drop_column(column).take()).await
}

/// Says of each token that is there who made it, where somebody did who had signed in.
async fn tell_makers(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    let id = match manager.get_database_backend() {
        sea_orm_migration::sea_orm::DbBackend::Postgres => "CAST(token.id AS TEXT)",
        _ => {
            "LOWER(SUBSTR(HEX(token.id), 1, 8) || '-' || SUBSTR(HEX(token.id), 9, 4) || '-' || \
             SUBSTR(HEX(token.id), 13, 4) || '-' || SUBSTR(HEX(token.id), 17, 4) || '-' || \
             SUBSTR(HEX(token.id), 21))"
        }
    };
    let text = format!(
        "UPDATE token SET made_by = (SELECT deed.by_id FROM deed \
         WHERE deed.shop_id = token.shop_id AND deed.what = 'token-made' \
         AND deed.by_kind = 'person' AND deed.about = {id})"
    );
    manager.get_connection().execute_unprepared(&text).await?;
    Ok(())
}

impl MigrationName for Step {
    fn name(&self) -> &str {
        "m0010_sign_in"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        create(manager, vec![sign_in_try(), device()]).await?;
        let [device, address, seen_at, confirmed_at] = OF_SESSION;
        add(manager, "session", text(device)).await?;
        add(manager, "session", text(address)).await?;
        add(manager, "session", moment(seen_at)).await?;
        add(manager, "session", moment(confirmed_at)).await?;
        add(manager, "token", ColumnDef::new("made_by").uuid().take()).await?;
        tell_makers(manager).await?;
        drop(manager, "person", "may_try_at").await?;
        drop(manager, "person", "failures").await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let failures = ColumnDef::new("failures").big_integer().not_null().default(0).take();
        add(manager, "person", failures).await?;
        add(manager, "person", moment("may_try_at")).await?;
        drop(manager, "token", "made_by").await?;
        for column in OF_SESSION {
            drop(manager, "session", column).await?;
        }
        drop_all(manager, &NAMES).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
