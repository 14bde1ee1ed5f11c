//! A database for one test, of either kind, and a shop in it that tests can tell stories with.

#![allow(clippy::unwrap_used, clippy::expect_used, dead_code)]

use capful_domain::facts::{Count, Discard, Mix, Opening, Order, OrderLine, Pour, Receipt};
use capful_domain::{
    Amount, Condition, ContainerId, Currency, Id, Job, JobStatus, JobType, Money, Product, Ratio,
    Shop, Supplier, Unit, VehicleSize,
};
use capful_store::{Change, Checked, Effects, EventKind, Store, StoreError, WriteContext};
use chrono::{DateTime, NaiveDate, Utc};
use rust_decimal::Decimal;
use sea_orm::{ConnectionTrait, Database};
use tempfile::TempDir;
use uuid::Uuid;

/// A fresh database of its own.
pub struct Fresh {
    pub url: String,
    _directory: Option<TempDir>,
}

impl Fresh {
    pub fn sqlite() -> Self {
        let directory = tempfile::tempdir().unwrap();
        let url = format!("sqlite:{}", directory.path().join("shop.db").display());
        Self { url, _directory: Some(directory) }
    }

    /// A schema of its own; nothing where no PostgreSQL is told of, as `scripts/test` does.
    pub async fn postgres() -> Option<Self> {
        let Ok(server) = std::env::var("CAPFUL_TEST_POSTGRES") else {
            eprintln!("passed over: `scripts/postgres` runs this test beside a PostgreSQL");
            return None;
        };
        let name = format!("test_{}", Uuid::now_v7().simple());
        let connection = Database::connect(&server).await.unwrap();
        connection.execute_unprepared(&format!("CREATE SCHEMA {name}")).await.unwrap();
        connection.close().await.unwrap();
        let joint = if server.contains('?') { '&' } else { '?' };
        let url = format!("{server}{joint}options[search_path]={name}");
        Some(Self { url, _directory: None })
    }

    /// A database that is there, or is reached in another way.
    pub fn at(url: &str) -> Self {
        Self { url: url.to_owned(), _directory: None }
    }

    pub async fn store(&self) -> Store {
        let store = Store::open(&self.url).await.unwrap();
        store.migrate().await.unwrap();
        store
    }
}

/// Runs each test on both databases.
#[macro_export]
macro_rules! on_both {
    ($($test:ident),* $(,)?) => {
        mod sqlite {
            $(#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
            async fn $test() {
                super::$test($crate::common::Fresh::sqlite()).await;
            })*
        }

        mod postgres {
            $(#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
            async fn $test() {
                if let Some(fresh) = $crate::common::Fresh::postgres().await {
                    super::$test(fresh).await;
                }
            })*
        }
    };
}

pub fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

pub fn container(text: &str) -> ContainerId {
    ContainerId::parse(text).unwrap()
}

pub fn ml(number: i64) -> Amount {
    Amount { number: Decimal::from(number), unit: Unit::Ml }
}

pub fn ratio(water: i64) -> Ratio {
    Ratio::from_water(Decimal::from(water)).unwrap()
}

/// Noon of a day in March 2026.
pub fn noon(day: u32) -> DateTime<Utc> {
    march(day).and_hms_opt(12, 0, 0).unwrap().and_utc()
}

pub fn march(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, day).unwrap()
}

pub fn soap() -> Product {
    Product { open_days: Some(90), ..Product::new(id("soap"), "Foaming soap", ml(1000)) }
}

pub fn receipt(own: &str, day: u32, product: &str, containers: u32) -> Receipt {
    Receipt {
        id: id(own),
        at: noon(day),
        product: id(product),
        containers,
        unit_cost: Money::from_minor(1200),
        supplier: None,
        lot: None,
        best_before: None,
        order: None,
        container_size: None,
    }
}

pub fn pour(own: &str, at: DateTime<Utc>, product: &str, number: i64) -> Pour {
    Pour {
        id: id(own),
        at,
        product: id(product),
        amount: ml(number),
        job: None,
        ratio: None,
        container: None,
        method: None,
    }
}

pub fn opening(own: &str, at: DateTime<Utc>, product: &str) -> Opening {
    Opening { id: id(own), at, product: id(product), container: None }
}

pub fn discard(own: &str, at: DateTime<Utc>, product: &str) -> Discard {
    let (product, amount) = (id(product), None);
    Discard { id: id(own), at, product, amount, container: None, reason: None }
}

pub fn mix(own: &str, at: DateTime<Utc>, product: &str, number: i64, water: i64) -> Mix {
    let (amount, ratio) = (ml(number), ratio(water));
    Mix { id: id(own), at, product: id(product), amount, ratio, container: None }
}

pub fn count(own: &str, at: DateTime<Utc>, product: &str, number: i64) -> Count {
    Count {
        id: id(own),
        at,
        product: id(product),
        amount: Some(ml(number)),
        gross_g: None,
        container: None,
        sealed: None,
        sd_share: None,
    }
}

pub fn job(own: &str, day: u32) -> Job {
    Job {
        id: id(own),
        booked_at: noon(1),
        planned_on: march(day),
        status: JobStatus::Booked,
        job_types: vec![id("wash")],
        size: VehicleSize::Medium,
        condition: Condition::REFERENCE,
        started_at: None,
        finished_at: None,
        cancelled_at: None,
        vehicle: Some("grey hatchback".to_owned()),
        price: None,
    }
}

pub fn order(own: &str, day: u32, product: &str, packs: u32) -> Change {
    let order = Order { id: id(own), placed_at: noon(day), supplier: id("dock"), status: None };
    let (product, supplier_code) = (id(product), None);
    let line = OrderLine { order: id(own), product, packs, supplier_code };
    Change::PlaceOrder(order, vec![line])
}

/// A shop that sells washes, and what its people do.
pub struct TestShop {
    pub store: Store,
    pub shop: Uuid,
}

impl TestShop {
    /// With a product, `soap` (1 L), a supplier, `dock`, and a job type, `wash`.
    pub async fn with_soap(fresh: &Fresh) -> Self {
        let store = fresh.store().await;
        let shop = store.new_uuid(noon(1));
        let own = Self { store, shop };
        let halifax = chrono_tz::America::Halifax;
        let settings = Shop::new("Two Gulls", halifax, Currency::parse("CAD").unwrap());
        own.done(Change::Shop(Box::new(settings))).await;
        own.done(Change::Product(Box::new(soap()))).await;
        own.done(Change::Supplier(Supplier {
            id: id("dock"),
            name: "North Dock".to_owned(),
            lead_days: Decimal::from(4),
            lead_days_sd: None,
            order_weekdays: vec![],
            freight: Money::ZERO,
            free_freight_over: None,
            minimum_order: Money::ZERO,
        }))
        .await;
        own.done(Change::JobType(JobType {
            id: id("wash"),
            name: "Wash".to_owned(),
            price: None,
            stall_cost: None,
            comes_back: None,
        }))
        .await;
        own
    }

    pub async fn product(&self, own: &str) {
        let product = Product { id: id(own), ..soap() };
        self.done(Change::Product(Box::new(product))).await;
    }

    pub fn asked(&self) -> WriteContext {
        WriteContext::plainly(self.shop, noon(20))
    }

    pub async fn tries(&self, change: Change) -> Result<Effects, StoreError> {
        self.store.change_plainly(&self.asked(), &change).await
    }

    pub async fn done(&self, change: Change) -> Effects {
        self.tries(change).await.unwrap()
    }

    /// What was said to something that cannot be done, and that it changed nothing.
    pub async fn refused(&self, change: Change) -> String {
        let facts = self.store.facts(self.shop, None).await.unwrap();
        let refusal = self.tries(change).await.unwrap_err();
        assert!(!matches!(refusal, StoreError::Database(_)), "{refusal}");
        assert_eq!(self.store.facts(self.shop, None).await.unwrap(), facts);
        self.is_sound().await;
        refusal.to_string()
    }

    pub async fn reverses(&self, kind: EventKind, own: &str) -> Effects {
        self.done(Change::Reverse { kind, id: id(own) }).await
    }

    /// Containers with their state and what is left, in mL.
    pub async fn shelf(&self, product: &str) -> Vec<String> {
        let product = id(product);
        let all = self.store.containers(self.shop, Some(&product), false).await.unwrap();
        let shown = all.iter().map(|c| {
            let state = format!("{:?}", c.state()).to_lowercase();
            format!("{} {state} {}", c.id, c.left.in_unit(Unit::Ml))
        });
        shown.collect()
    }

    /// The books add up.
    pub async fn is_sound(&self) -> Checked {
        let checked = self.store.check(self.shop).await.unwrap();
        assert_eq!(checked.wrong, [], "the books do not add up");
        checked
    }

    /// The books add up, and all rows posted again come to the same.
    pub async fn is_as_replayed(&self) {
        let checked = self.is_sound().await;
        assert_eq!(checked.otherwise, [], "posted again, the rows come to something else");
    }
}
