//! What the service writes when a job is deducted, written without it: prepared statements on one
//! connection, as few as there can be, each job one transaction that is as durable.

use std::ops::Range;
use std::str::FromStr;
use std::time::{Duration, Instant};

use chrono::{DateTime, Utc};
use sea_orm::sqlx::postgres::{PgConnectOptions, PgConnection};
use sea_orm::sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous,
};
use sea_orm::sqlx::{self, AssertSqlSafe, ConnectOptions, Row};
use uuid::Uuid;

use crate::shop::PRODUCTS;

/// What one job takes of a product, in the ledger's units.
const TAKES: i64 = 10_000;

/// The time a job took.
pub async fn deduct(url: &str, jobs: Range<usize>) -> Duration {
    if url.starts_with("sqlite:") {
        let options = SqliteConnectOptions::from_str(url).unwrap();
        let options = options.journal_mode(SqliteJournalMode::Wal).foreign_keys(true);
        let options = options.synchronous(SqliteSynchronous::Full);
        let mut connection = options.disable_statement_logging().connect().await.unwrap();
        sqlite::deduct(&mut connection, jobs).await
    } else {
        let options = PgConnectOptions::from_str(url).unwrap();
        let mut connection = options.disable_statement_logging().connect().await.unwrap();
        postgres::deduct(&mut connection, jobs).await
    }
}

/// `($1, $2), ($3, $4)`: so many rows of so many values.
fn values(rows: usize, columns: usize) -> String {
    let row = |row: usize| {
        let value = |column: usize| format!("${}", row * columns + column + 1);
        format!("({})", (0..columns).map(value).collect::<Vec<_>>().join(", "))
    };
    (0..rows).map(row).collect::<Vec<_>>().join(", ")
}

struct Statements {
    containers: String,
    pours: String,
    movements: String,
    left: String,
    job: &'static str,
    once: &'static str,
}

impl Statements {
    fn new() -> Self {
        let products: Vec<String> = (0..PRODUCTS).map(|p| format!("'p-{p}'")).collect();
        Self {
            containers: format!(
                "SELECT shop_id, own_id, product, movements FROM container \
                 WHERE is_live AND product IN ({}) ORDER BY id",
                products.join(", ")
            ),
            pours: format!(
                "INSERT INTO pour (shop_id, id, own_id, at, product, quantity, unit, job) \
                 VALUES {}",
                values(PRODUCTS, 8)
            ),
            movements: format!(
                "INSERT INTO movement (shop_id, id, container, number, at, kind, product, change, \
                 effect, source_kind, source, job) VALUES {}",
                values(PRODUCTS, 12)
            ),
            left: format!(
                "UPDATE container SET left_over = left_over - {TAKES}, movements = movements + 1 \
                 WHERE shop_id = $1 AND own_id IN ({})",
                (0..PRODUCTS).map(|p| format!("${}", p + 2)).collect::<Vec<_>>().join(", ")
            ),
            job: "UPDATE job SET status = 'done', finished_at = $1, version = version + 1 \
                  WHERE shop_id = $2 AND own_id = $3",
            once: "INSERT INTO idempotency \
                   (shop_id, id, own_id, fingerprint, status, body, made_at) \
                   VALUES ($1, $2, $3, $4, 200, $5, $6)",
        }
    }
}

/// A container to take from.
struct Taken {
    container: String,
    product: String,
    movements: i64,
}

/// The same for one kind of connection.
macro_rules! raw {
    ($name:ident, $connection:ty) => {
        mod $name {
            use super::*;

            pub async fn deduct(connection: &mut $connection, jobs: Range<usize>) -> Duration {
                let statements = Statements::new();
                let number = u32::try_from(jobs.len()).unwrap();
                let begun = Instant::now();
                for job in jobs {
                    one(connection, &statements, &format!("J-{job}")).await;
                }
                begun.elapsed() / number
            }

            async fn one(connection: &mut $connection, statements: &Statements, job: &str) {
                let begin = if stringify!($name) == "sqlite" { "BEGIN IMMEDIATE" } else { "BEGIN" };
                sqlx::query(begin).execute(&mut *connection).await.unwrap();
                let now = Utc::now();
                let (shop, taken) = containers(connection, statements).await;
                rows(connection, statements, job, shop, &taken, now).await;
                let mut left = sqlx::query(AssertSqlSafe(statements.left.as_str())).bind(shop);
                for one in &taken {
                    left = left.bind(one.container.as_str());
                }
                left.execute(&mut *connection).await.unwrap();
                let done = sqlx::query(statements.job).bind(now).bind(shop).bind(job);
                done.execute(&mut *connection).await.unwrap();
                let once = sqlx::query(statements.once).bind(shop).bind(Uuid::now_v7());
                let once = once.bind(format!("raw {job}")).bind("f".repeat(64));
                let once = once.bind("x".repeat(1500)).bind(now);
                once.execute(&mut *connection).await.unwrap();
                sqlx::query("COMMIT").execute(&mut *connection).await.unwrap();
            }

            /// The first container of each product.
            async fn containers(
                connection: &mut $connection,
                statements: &Statements,
            ) -> (Uuid, Vec<Taken>) {
                let query = sqlx::query(AssertSqlSafe(statements.containers.as_str()));
                let rows = query.fetch_all(&mut *connection).await.unwrap();
                let mut taken: Vec<Taken> = Vec::new();
                for row in &rows {
                    let product: String = row.get(2);
                    if taken.iter().all(|one| one.product != product) {
                        taken.push(Taken {
                            container: row.get(1),
                            product,
                            movements: row.get::<i64, _>(3),
                        });
                    }
                }
                (rows[0].get(0), taken)
            }

            /// A pour and a movement for each product.
            async fn rows(
                connection: &mut $connection,
                statements: &Statements,
                job: &str,
                shop: Uuid,
                taken: &[Taken],
                now: DateTime<Utc>,
            ) {
                let mut pours = sqlx::query(AssertSqlSafe(statements.pours.as_str()));
                let mut movements = sqlx::query(AssertSqlSafe(statements.movements.as_str()));
                for one in taken {
                    let pour = Uuid::now_v7().to_string();
                    pours = pours.bind(shop).bind(Uuid::now_v7()).bind(pour.clone()).bind(now);
                    pours = pours.bind(one.product.as_str()).bind("10").bind("mL").bind(job);
                    movements = movements.bind(shop).bind(Uuid::now_v7());
                    movements = movements.bind(one.container.as_str()).bind(one.movements + 1);
                    movements = movements.bind(now).bind("poured").bind(one.product.as_str());
                    movements = movements.bind(-TAKES).bind("none").bind("pour").bind(pour);
                    movements = movements.bind(job);
                }
                pours.execute(&mut *connection).await.unwrap();
                movements.execute(&mut *connection).await.unwrap();
            }
        }
    };
}

raw!(sqlite, SqliteConnection);
raw!(postgres, PgConnection);
