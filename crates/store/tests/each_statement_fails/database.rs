//! The database of a store, seen and made to fail by a connection of its own.

use capful_store::StoreError;
use sea_orm::{ConnectOptions, ConnectionTrait, DatabaseConnection, DbBackend, Statement as Sql};

/// What fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The statement that writes the row, as where the row goes against a rule.
    Statement,
    /// More than that: SQLite takes the whole transaction back by itself, as it does where the disk
    /// is full; PostgreSQL's end of the connection goes away.
    Transaction,
    /// The commit of what was written.
    Commit,
}

/// A second connection to a database.
pub struct Database {
    connection: DatabaseConnection,
    backend: DbBackend,
    tables: Vec<String>,
    content: String,
    /// What fails of it.
    pub fault: Fault,
}

impl Database {
    /// To a database that has its tables.
    pub async fn open(url: &str) -> Self {
        let mut one = ConnectOptions::new(url);
        one.max_connections(1);
        let connection = sea_orm::Database::connect(one).await.unwrap();
        let backend = connection.get_database_backend();
        let (tables, content, fault) = (Vec::new(), String::new(), Fault::Statement);
        let mut own = Self { connection, backend, tables, content, fault };
        own.look().await;
        own
    }

    /// Looks what tables there are.
    async fn look(&mut self) {
        self.tables = match self.backend {
            DbBackend::Sqlite => {
                let own = "type = 'table' AND name NOT LIKE 'sqlite_%'";
                self.texts(&format!("SELECT name AS line FROM sqlite_master WHERE {own}")).await
            }
            _ => {
                let own = "schemaname = current_schema()";
                self.texts(&format!("SELECT tablename::text AS line FROM pg_tables WHERE {own}"))
                    .await
            }
        };
        self.tables.retain(|table| table != "seaql_migrations");
        let mut parts = Vec::new();
        for table in &self.tables {
            let columns = match self.backend {
                DbBackend::Sqlite => {
                    let all = format!("SELECT name AS line FROM pragma_table_info('{table}')");
                    let all = self.texts(&all).await;
                    let all: Vec<String> =
                        all.iter().map(|column| format!("quote(\"{column}\")")).collect();
                    all.join(" || ',' || ")
                }
                _ => "\"row\"::text".to_owned(),
            };
            parts.push(format!(
                "SELECT '{table} ' || {columns} AS line FROM \"{table}\" AS \"row\""
            ));
        }
        self.content = format!("{} ORDER BY 1", parts.join(" UNION ALL "));
    }

    async fn texts(&self, query: &str) -> Vec<String> {
        let rows = self.connection.query_all_raw(Sql::from_string(self.backend, query)).await;
        rows.unwrap().iter().map(|row| row.try_get("", "line").unwrap()).collect()
    }

    /// Every row of every table, as text.
    pub async fn content(&self) -> Vec<String> {
        self.texts(&self.content).await
    }

    async fn does(&self, text: &str) {
        let done = self.connection.execute_unprepared(text).await;
        let done = done.map_err(|error| StoreError::Database(format!("{text}: {error}")));
        done.unwrap();
    }

    /// Lets rows be counted as they are written, and fail from a number on.
    pub async fn install(&mut self, fault: Fault) {
        self.fault = fault;
        match self.backend {
            DbBackend::Sqlite => self.install_in_sqlite(fault).await,
            _ => self.install_in_postgresql(fault).await,
        }
    }

    async fn install_in_sqlite(&self, fault: Fault) {
        self.does(
            "CREATE TABLE fault (written INTEGER NOT NULL, from_row INTEGER NOT NULL);
             INSERT INTO fault VALUES (0, 9223372036854775807);
             CREATE TABLE fault_of (id INTEGER PRIMARY KEY);
             CREATE TABLE fault_left (of INTEGER NOT NULL
                 REFERENCES fault_of (id) DEFERRABLE INITIALLY DEFERRED);",
        )
        .await;
        let is_due = "(SELECT written >= from_row FROM fault)";
        let fails = match fault {
            Fault::Statement => format!("SELECT CASE WHEN {is_due} THEN RAISE(ABORT, 'due') END"),
            Fault::Transaction => {
                format!("SELECT CASE WHEN {is_due} THEN RAISE(ROLLBACK, 'due') END")
            }
            // What names a row that is not there is noticed at the commit.
            Fault::Commit => format!("INSERT INTO fault_left SELECT 1 WHERE {is_due}"),
        };
        for table in &self.tables {
            for event in ["INSERT", "UPDATE", "DELETE"] {
                self.does(&format!(
                    "CREATE TRIGGER \"fault_{table}_{event}\" BEFORE {event} ON \"{table}\" BEGIN
                         UPDATE fault SET written = written + 1;
                         {fails};
                     END"
                ))
                .await;
            }
        }
    }

    async fn install_in_postgresql(&self, fault: Fault) {
        let fails = match fault {
            Fault::Statement | Fault::Commit => "RAISE EXCEPTION 'due'",
            Fault::Transaction => {
                "PERFORM pg_terminate_backend(pg_backend_pid()); PERFORM pg_sleep(60)"
            }
        };
        self.does(&format!(
            "CREATE SEQUENCE fault_written;
             CREATE TABLE fault (from_row BIGINT NOT NULL);
             INSERT INTO fault VALUES (9223372036854775807);
             CREATE FUNCTION fault() RETURNS trigger LANGUAGE plpgsql AS $$
             BEGIN
                 IF nextval('fault_written') >= (SELECT from_row FROM fault) THEN
                     {fails};
                 END IF;
                 IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
                 RETURN NEW;
             END $$"
        ))
        .await;
        let (kind, when, deferred) = match fault {
            Fault::Commit => ("CONSTRAINT TRIGGER", "AFTER", "DEFERRABLE INITIALLY DEFERRED"),
            _ => ("TRIGGER", "BEFORE", ""),
        };
        for table in &self.tables {
            self.does(&format!(
                "CREATE {kind} fault {when} INSERT OR UPDATE OR DELETE ON \"{table}\" {deferred}
                     FOR EACH ROW EXECUTE FUNCTION fault()"
            ))
            .await;
        }
    }

    /// From now on rows fail from this one on, counted from 1.
    pub async fn fail_from(&self, row: i64) {
        let text = match self.backend {
            DbBackend::Sqlite => format!("UPDATE fault SET written = 0, from_row = {row}"),
            _ => format!(
                "UPDATE fault SET from_row = {row}; SELECT setval('fault_written', 1, false)"
            ),
        };
        self.does(&text).await;
    }
}
