//! What a shop writes down: one value for each row of the shop folder.

use chrono::{DateTime, NaiveDate, Utc};
use rust_decimal::Decimal;

use crate::catalog::{JobType, NamedRatio, Offer, Product, SheetRow, Supplier};
use crate::id::{ContainerId, Id};
use crate::job::Job;
use crate::money::Money;
use crate::quantity::Amount;
use crate::ratio::Ratio;
use crate::shop::Shop;

/// How a pour is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Method {
    /// Read off a scale on the bottle, a cap or a pump.
    Measured,
    /// Weighed.
    Weighed,
    /// Not seen: deducted as expected. It teaches nothing.
    Expected,
}

/// Why something was thrown away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DiscardReason {
    /// Past its use-by.
    Expired,
    /// Spilled.
    Spilled,
    /// Broken, frozen, separated.
    Damaged,
    /// Sent back to the supplier.
    Returned,
}

/// A pour: out of a container, for a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Pour {
    /// The shop's own id.
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// Of what.
    pub product: Id,
    /// How much; of the mix where `ratio` is given.
    pub amount: Amount,
    /// For which job.
    pub job: Option<Id>,
    /// The ratio of the mix that was measured.
    pub ratio: Option<Ratio>,
    /// Out of which container; empty: FEFO.
    pub container: Option<ContainerId>,
    /// How it is known; empty: measured.
    pub method: Option<Method>,
}

/// A receipt: containers that came in, one lot.
#[derive(Debug, Clone, PartialEq)]
pub struct Receipt {
    /// The shop's own id; its containers are `ID/1`, `ID/2`, ….
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// Of what.
    pub product: Id,
    /// How many containers.
    pub containers: u32,
    /// Cost of one container.
    pub unit_cost: Money,
    /// From whom.
    pub supplier: Option<Id>,
    /// The maker's batch code.
    pub lot: Option<String>,
    /// The date on the container.
    pub best_before: Option<NaiveDate>,
    /// Against which order.
    pub order: Option<Id>,
    /// What each holds, in the product's unit, where it differs from the product's own size.
    pub container_size: Option<Decimal>,
}

/// A container was opened.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// The shop's own id.
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// Of what.
    pub product: Id,
    /// Which; empty: the next sealed one, FEFO.
    pub container: Option<ContainerId>,
}

/// Something was thrown away.
#[derive(Debug, Clone, PartialEq)]
pub struct Discard {
    /// The shop's own id.
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// Of what.
    pub product: Id,
    /// How much; empty: the whole container.
    pub amount: Option<Amount>,
    /// Which container; empty: FEFO.
    pub container: Option<ContainerId>,
    /// Why.
    pub reason: Option<DiscardReason>,
}

/// A container was filled with concentrate and water.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// The shop's own id, and the container's.
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// The concentrate.
    pub product: Id,
    /// How much of the mix.
    pub amount: Amount,
    /// Parts of water to one part of product.
    pub ratio: Ratio,
    /// Where the concentrate came from; empty: FEFO.
    pub container: Option<ContainerId>,
}

/// What somebody saw or weighed on the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct Count {
    /// The shop's own id.
    pub id: Id,
    /// When.
    pub at: DateTime<Utc>,
    /// Of what.
    pub product: Id,
    /// How much was seen.
    pub amount: Option<Amount>,
    /// Weight with its container, in grams.
    pub gross_g: Option<Decimal>,
    /// Of one container; empty: of the whole product, all that is there.
    pub container: Option<ContainerId>,
    /// Sealed containers seen; then the amount is what the open ones hold.
    pub sealed: Option<u32>,
    /// How exact, as a share (standard deviation); empty: 0.03.
    pub sd_share: Option<Decimal>,
}

impl Count {
    /// How exact it is, as a share (standard deviation): what it says, else 0.03.
    #[must_use]
    pub fn sd_share(&self) -> Decimal {
        self.sd_share.unwrap_or(Decimal::new(3, 2))
    }
}

/// How an order stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum OrderStatus {
    /// Waiting for it.
    Placed,
    /// All that will come has come.
    Received,
    /// Nothing will come.
    Cancelled,
}

/// An order placed with a supplier.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The shop's own id.
    pub id: Id,
    /// When.
    pub placed_at: DateTime<Utc>,
    /// With whom.
    pub supplier: Id,
    /// How it stands; empty: placed.
    pub status: Option<OrderStatus>,
}

/// One line of an order.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderLine {
    /// Which order.
    pub order: Id,
    /// Of what.
    pub product: Id,
    /// How many packs.
    pub packs: u32,
    /// The supplier's code.
    pub supplier_code: Option<String>,
}

/// Everything that one shop has written down, each list in the order of its file.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)] // each list is named after its file
pub struct Facts {
    pub shop: Shop,
    pub products: Vec<Product>,
    pub ratios: Vec<NamedRatio>,
    pub suppliers: Vec<Supplier>,
    pub offers: Vec<Offer>,
    pub job_types: Vec<JobType>,
    pub usage_sheet: Vec<SheetRow>,
    pub jobs: Vec<Job>,
    pub pours: Vec<Pour>,
    pub receipts: Vec<Receipt>,
    pub openings: Vec<Opening>,
    pub discards: Vec<Discard>,
    pub mixes: Vec<Mix>,
    pub counts: Vec<Count>,
    pub orders: Vec<Order>,
    pub order_lines: Vec<OrderLine>,
}

impl Facts {
    /// A shop that has written nothing down yet.
    #[must_use]
    pub fn new(shop: Shop) -> Self {
        Self {
            shop,
            products: Vec::new(),
            ratios: Vec::new(),
            suppliers: Vec::new(),
            offers: Vec::new(),
            job_types: Vec::new(),
            usage_sheet: Vec::new(),
            jobs: Vec::new(),
            pours: Vec::new(),
            receipts: Vec::new(),
            openings: Vec::new(),
            discards: Vec::new(),
            mixes: Vec::new(),
            counts: Vec::new(),
            orders: Vec::new(),
            order_lines: Vec::new(),
        }
    }
}
