//! The last row of each product in the order of time: whether a new one lies behind it.

use std::collections::{BTreeSet, HashMap};

use capful_domain::{Id, Product, Shop};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, Query, SelectStatement};
use sea_orm::{DbErr, EntityTrait, FromQueryResult, QueryFilter, QueryResult, QuerySelect};
use uuid::Uuid;

use crate::db::error::Failure;
use crate::db::sql;
use crate::db::work::Work;
use crate::rows::{ProductColumn, Stored};

/// When a row happened: its moment, and the turn of its kind among those of the same moment.
pub(crate) type When = (DateTime<Utc>, u8);

/// Tables of rows, each with the turn of its kind; an index has the last standing row of each
/// product ready.
const KINDS: [(&str, u8, &str); 7] = [
    ("receipt", 0, "\"reversed_at\" IS NULL"),
    ("discard", 1, "\"reversed_at\" IS NULL"),
    ("opening", 2, "\"reversed_at\" IS NULL"),
    ("mix", 3, "\"reversed_at\" IS NULL"),
    ("pour", 4, "\"reversed_at\" IS NULL"),
    // What jobs of a history were taken to have used has no rows.
    ("movement", 5, "\"source_kind\" = 'expected'"),
    ("count", 6, "\"reversed_at\" IS NULL"),
];

/// When the last row of each product happened.
#[derive(Debug, Default)]
pub(crate) struct Latest(HashMap<Id, When>);

impl Latest {
    pub(crate) fn of(&self, product: &Id) -> Option<When> {
        self.0.get(product).copied()
    }

    pub(crate) fn note(&mut self, product: &Id, when: Option<When>) {
        self.0.extend(when.map(|when| (product.clone(), when)));
    }
}

/// Adds to a query of products when the last row of each happened.
pub(crate) fn ask(query: &mut SelectStatement) {
    for (table, _, stands) in KINDS {
        let last = format!(
            "(SELECT MAX(r.\"at\") FROM \"{table}\" AS r WHERE r.\"shop_id\" = \
             \"product\".\"shop_id\" AND r.\"product\" = \"product\".\"own_id\" AND r.{stands})"
        );
        query.expr_as(Expr::cust(last), format!("last_{table}"));
    }
}

/// Adds to a query of products of a shop whether a pour of each stands for a job.
///
/// The pours are sought by their job, of which there are a few. That they stand is asked in a way
/// that no index of standing pours is taken for it: PostgreSQL takes one for small for as long as
/// it has not looked, and reads all of them.
pub(crate) fn ask_poured(query: &mut SelectStatement, shop: Uuid, job: &Id) {
    use sea_orm::sea_query::ExprTrait;
    let stands = "CASE WHEN \"reversed_at\" IS NULL THEN 1 ELSE 0 END = 1";
    let mut poured = Query::select();
    poured
        .column("product")
        .from("pour")
        .and_where(sql::of_shop(shop))
        .and_where(Expr::col("job").eq(job.as_str()))
        .and_where(Expr::cust(stands));
    let own = Expr::col(("product", "own_id"));
    query.expr_as(own.in_subquery(poured), "is_poured");
}

fn read(row: &QueryResult) -> Result<Option<When>, DbErr> {
    let mut last = None;
    for (table, turn, _) in KINDS {
        let at: Option<DateTime<Utc>> = row.try_get("", &format!("last_{table}"))?;
        last = last.max(at.map(|at| (at, turn)));
    }
    Ok(last)
}

/// What a product's row is read with for a job's end: its shop, when its last row happened, and
/// whether it was poured for the job.
pub(crate) struct ShopAndLast {
    pub shop: <Shop as Stored>::Row,
    pub last: Option<When>,
    pub is_poured: bool,
}

impl FromQueryResult for ShopAndLast {
    fn from_query_result(row: &QueryResult, prefix: &str) -> Result<Self, DbErr> {
        let shop = <Shop as Stored>::Row::from_query_result(row, prefix)?;
        Ok(Self { shop, last: read(row)?, is_poured: row.try_get("", "is_poured")? })
    }
}

struct LastOfProduct {
    product: String,
    last: Option<When>,
}

impl FromQueryResult for LastOfProduct {
    fn from_query_result(row: &QueryResult, prefix: &str) -> Result<Self, DbErr> {
        Ok(Self { product: row.try_get(prefix, "own_id")?, last: read(row)? })
    }
}

/// When the last rows of these products happened.
pub(crate) async fn latest(work: &Work<'_>, ids: &BTreeSet<Id>) -> Result<Latest, Failure> {
    let names: Vec<&str> = ids.iter().map(Id::as_str).collect();
    let mut latest = Latest::default();
    for names in names.chunks(sql::MOST_VALUES) {
        let mut own = <Product as Stored>::Table::find()
            .select_only()
            .column(ProductColumn::OwnId)
            .filter(sql::of_shop(work.shop))
            .filter(sql::one_of("own_id", names));
        ask(QuerySelect::query(&mut own));
        for row in own.into_model::<LastOfProduct>().all(&work.tx).await? {
            if let Ok(product) = Id::parse(&row.product) {
                latest.note(&product, row.last);
            }
        }
    }
    Ok(latest)
}
