//! The books as they stand in the database, read past the program.

use std::collections::HashMap;

use sea_orm::{ConnectionTrait, Database, DatabaseConnection, DbBackend, QueryResult, Statement};

use crate::entry::{Row, Table};

/// What stands in the database.
#[derive(Debug, Default)]
pub struct Books {
    /// How often each row is there.
    pub rows: HashMap<Row, u64>,
    /// Rows that were reversed.
    pub reversed: HashMap<Row, bool>,
    pub jobs: HashMap<String, JobRow>,
    /// The products poured for each job, those of rows that stand.
    pub pours: HashMap<String, Vec<String>>,
    /// The job that each pour is for.
    pub job_of: HashMap<String, Option<String>>,
    /// Lines of each order.
    pub lines: HashMap<String, usize>,
    /// Containers of each receipt.
    pub containers: HashMap<String, u64>,
    /// Pours of something that made no movement.
    pub still: Vec<String>,
    /// Containers that do not hold the sum of their movements, and what else does not add up.
    pub wrong: Vec<String>,
}

/// A job.
#[derive(Debug)]
pub struct JobRow {
    pub status: String,
    pub vehicle: Option<String>,
}

/// Reads the books of a database.
///
/// # Errors
/// Where it cannot be read.
pub fn read(url: &str) -> Result<Books, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let database = Database::connect(url).await.map_err(|error| error.to_string())?;
        let books = Reader(&database).books().await;
        let _ = database.close().await;
        books.map_err(|error| format!("the books cannot be read: {error}"))
    })
}

/// Moves what stands in a file's -wal into the file, so that it can be copied.
pub fn gather(file: &std::path::Path) {
    let url = format!("sqlite://{}", file.display());
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let database = Database::connect(url).await.unwrap();
        database.execute_unprepared("PRAGMA wal_checkpoint(TRUNCATE)").await.unwrap();
        database.close().await.unwrap();
    });
}

struct Reader<'d>(&'d DatabaseConnection);

type Read<T> = Result<T, sea_orm::DbErr>;

impl Reader<'_> {
    async fn all(&self, sql: &str) -> Read<Vec<QueryResult>> {
        let statement = Statement::from_string(self.0.get_database_backend(), sql);
        self.0.query_all_raw(statement).await
    }

    async fn books(&self) -> Read<Books> {
        let mut books = Books::default();
        for table in Table::ALL {
            self.rows(table, &mut books).await?;
        }
        for row in self.all("SELECT own_id, status, vehicle FROM job").await? {
            let job = JobRow { status: row.try_get("", "status")?, vehicle: text(&row, "vehicle") };
            books.jobs.insert(row.try_get("", "own_id")?, job);
        }
        let pours = "SELECT own_id, product, job, CASE WHEN reversed_at IS NULL THEN 1 ELSE 0 END \
                     AS stands FROM pour";
        for row in self.all(pours).await? {
            let job = text(&row, "job");
            if let (Some(job), 1) = (&job, number(&row, "stands")?) {
                let product = row.try_get("", "product")?;
                books.pours.entry(job.clone()).or_default().push(product);
            }
            books.job_of.insert(row.try_get("", "own_id")?, job);
        }
        let lines =
            "SELECT order_id AS own_id, COUNT(*) AS number FROM order_line GROUP BY order_id";
        for row in self.all(lines).await? {
            let lines = usize::try_from(number(&row, "number")?).unwrap();
            books.lines.insert(row.try_get("", "own_id")?, lines);
        }
        let containers = "SELECT source AS own_id, COUNT(*) AS number FROM container \
                          WHERE source_kind = 'receipt' GROUP BY source";
        for row in self.all(containers).await? {
            let containers = u64::try_from(number(&row, "number")?).unwrap();
            books.containers.insert(row.try_get("", "own_id")?, containers);
        }
        self.sums(&mut books).await?;
        self.integrity(&mut books).await?;
        Ok(books)
    }

    async fn rows(&self, table: Table, books: &mut Books) -> Read<()> {
        let name = table.name();
        let reversed = match table.can_be_reversed() {
            true => "MAX(CASE WHEN reversed_at IS NULL THEN 0 ELSE 1 END)",
            false => "0",
        };
        let sql = format!(
            "SELECT own_id, COUNT(*) AS number, {reversed} AS reversed FROM \"{name}\" \
             GROUP BY own_id"
        );
        for row in self.all(&sql).await? {
            let own = Row { table, id: row.try_get("", "own_id")? };
            books.reversed.insert(own.clone(), number(&row, "reversed")? == 1);
            books.rows.insert(own, u64::try_from(number(&row, "number")?).unwrap());
        }
        Ok(())
    }

    /// Containers against their movements, and pours without any.
    async fn sums(&self, books: &mut Books) -> Read<()> {
        let sql = "SELECT c.own_id, c.left_over AS left_over, c.movements AS told, \
                   CAST(COALESCE(SUM(m.change), 0) AS BIGINT) AS sum, COUNT(m.id) AS number \
                   FROM container c LEFT JOIN movement m \
                   ON m.shop_id = c.shop_id AND m.container = c.own_id \
                   GROUP BY c.own_id, c.left_over, c.movements";
        for row in self.all(sql).await? {
            let (left, sum) = (number(&row, "left_over")?, number(&row, "sum")?);
            let (told, counted) = (number(&row, "told")?, number(&row, "number")?);
            if (left, told) != (sum, counted) {
                let own: String = row.try_get("", "own_id")?;
                books.wrong.push(format!(
                    "container {own} holds {left} by {told} movements, and has {counted} of {sum}"
                ));
            }
        }
        let sql = "SELECT p.own_id FROM pour p WHERE p.reversed_at IS NULL \
                   AND p.quantity NOT IN ('0', '0.0', '0.00', '0.000') AND NOT EXISTS \
                   (SELECT 1 FROM movement m WHERE m.shop_id = p.shop_id \
                   AND m.source_kind = 'pour' AND m.source = p.own_id)";
        for row in self.all(sql).await? {
            books.still.push(row.try_get("", "own_id")?);
        }
        Ok(())
    }

    /// What SQLite finds wrong with its file.
    async fn integrity(&self, books: &mut Books) -> Read<()> {
        if self.0.get_database_backend() != DbBackend::Sqlite {
            return Ok(());
        }
        for row in self.all("PRAGMA integrity_check").await? {
            let found: String = row.try_get_by_index(0)?;
            if found != "ok" {
                books.wrong.push(format!("the file: {found}"));
            }
        }
        if !self.all("PRAGMA foreign_key_check").await?.is_empty() {
            books.wrong.push("a row names another that is not there".to_owned());
        }
        Ok(())
    }
}

fn text(row: &QueryResult, column: &str) -> Option<String> {
    row.try_get::<Option<String>>("", column).unwrap_or_default()
}

/// A whole number, as wide as either database gives it.
fn number(row: &QueryResult, column: &str) -> Read<i64> {
    row.try_get::<i64>("", column).or_else(|_| row.try_get::<i32>("", column).map(i64::from))
}
