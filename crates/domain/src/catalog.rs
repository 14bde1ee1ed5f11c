//! What a shop buys, from whom, and what it expects its services to take.

use rust_decimal::{Decimal, RoundingStrategy};

use crate::id::Id;
use crate::money::Money;
use crate::quantity::{Amount, Dimension, Quantity, QuantityTooLarge, Unit};
use crate::ratio::Ratio;

/// How a product is sold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Used as it comes.
    ReadyToUse,
    /// Cut with water.
    Concentrate,
}

/// What is bought again under one rule.
#[derive(Debug, Clone, PartialEq)]
pub struct Product {
    /// The shop's own id.
    pub id: Id,
    /// The name on the shelf.
    pub name: String,
    /// The unit its quantities are shown in.
    pub unit: Unit,
    /// What a full container holds, in `unit`.
    pub container_size: Amount,
    /// A word to group by.
    pub category: Option<String>,
    /// Ready-to-use or concentrate.
    pub form: Form,
    /// Life sealed, in days from receipt, where the lot gives no date.
    pub shelf_days: Option<u32>,
    /// Life once opened, in days.
    pub open_days: Option<u32>,
    /// Life of a mix, in days.
    pub mix_days: Option<u32>,
    /// Grams in a millilitre.
    pub density_g_ml: Option<Decimal>,
    /// Weight of the empty container, in grams.
    pub tare_g: Option<Decimal>,
    /// The number in its barcode.
    pub gtin: Option<String>,
    /// GHS pictogram codes and H-statements.
    pub hazards: Vec<String>,
    /// What to wear or switch on.
    pub protection: Vec<String>,
    /// Products that serve in its place, best first.
    pub substitutes: Vec<Id>,
    /// Anything else.
    pub notes: Option<String>,
}

/// An amount that cannot be turned into the product's own measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WrongMeasure {
    /// A unit of another dimension.
    #[error("a quantity in {expected} or another unit of the same kind")]
    Dimension {
        /// The product's own unit.
        expected: Unit,
    },
    /// A number past the ledger's range.
    #[error(transparent)]
    TooLarge(#[from] QuantityTooLarge),
    /// More than nothing, and too little for the ledger to tell from it.
    #[error("at least {least}")]
    TooSmall {
        /// The least that can be written down, in the same unit.
        least: Amount,
    },
}

impl Product {
    /// A product with nothing but what it must have.
    #[must_use]
    pub fn new(id: Id, name: &str, container_size: Amount) -> Self {
        Self {
            id,
            name: name.to_owned(),
            unit: container_size.unit,
            container_size,
            category: None,
            form: Form::ReadyToUse,
            shelf_days: None,
            open_days: None,
            mix_days: None,
            density_g_ml: None,
            tare_g: None,
            gtin: None,
            hazards: Vec::new(),
            protection: Vec::new(),
            substitutes: Vec::new(),
            notes: None,
        }
    }

    /// What a full container holds, in ledger units.
    #[must_use]
    pub fn size(&self) -> Quantity {
        self.booked_quantity(self.container_size).unwrap_or_default()
    }

    /// An amount that somebody tells now, in this product's ledger units; between weight and volume
    /// by its density.
    ///
    /// # Errors
    /// [`WrongMeasure`] where the unit measures something else, or the number is too large or,
    /// above nothing, too small.
    pub fn quantity(&self, amount: Amount) -> Result<Quantity, WrongMeasure> {
        self.quantity_in_mix(amount, Ratio::NEAT)
    }

    /// What an amount of the mix that somebody tells now holds of this product, in ledger units.
    ///
    /// # Errors
    /// [`WrongMeasure`], as [`Product::quantity`].
    pub fn quantity_in_mix(&self, mix: Amount, ratio: Ratio) -> Result<Quantity, WrongMeasure> {
        let quantity = ratio.product_in(self.booked_quantity(mix)?);
        if quantity.is_zero() && mix.number > Decimal::ZERO {
            return Err(WrongMeasure::TooSmall { least: self.least(mix.unit, ratio) });
        }
        Ok(quantity)
    }

    /// The least amount of the mix in which there is something of this product.
    fn least(&self, unit: Unit, ratio: Ratio) -> Amount {
        let density = self.density_g_ml.unwrap_or(Decimal::ONE);
        let mix = (Decimal::ONE + ratio.water()) / unit.ledger_units();
        let number = match (unit.dimension(), self.unit.dimension()) {
            (Dimension::Mass, Dimension::Volume) => mix.checked_mul(density),
            (Dimension::Volume, Dimension::Mass) => mix.checked_div(density),
            _ => Some(mix),
        };
        let number = number.unwrap_or(mix);
        let number = number.round_dp_with_strategy(unit.decimals(), RoundingStrategy::AwayFromZero);
        Amount { number: number.normalize(), unit }
    }

    /// An amount of a row that stands in the books, in this product's ledger units: what is too
    /// little for the ledger is nothing.
    ///
    /// # Errors
    /// [`WrongMeasure`] where the unit measures something else or the number is too large.
    pub fn booked_quantity(&self, amount: Amount) -> Result<Quantity, WrongMeasure> {
        let density = self.density_g_ml.unwrap_or(Decimal::ONE);
        let number = match (amount.unit.dimension(), self.unit.dimension()) {
            (from, to) if from == to => Some(amount.number),
            (Dimension::Mass, Dimension::Volume) => amount.number.checked_div(density),
            (Dimension::Volume, Dimension::Mass) => amount.number.checked_mul(density),
            _ => return Err(WrongMeasure::Dimension { expected: self.unit }),
        };
        let number = number.ok_or(QuantityTooLarge)?;
        Ok(Quantity::from_unit(number, amount.unit)?)
    }

    /// What a weighed container holds: gross − tare, by its density (ledger units, never below
    /// nothing). `containers` empty containers stand on the scale with it.
    ///
    /// # Errors
    /// [`WrongMeasure`] where the product is not one that can be weighed.
    pub fn quantity_of_gross(
        &self,
        gross_g: Decimal,
        containers: u32,
    ) -> Result<Quantity, WrongMeasure> {
        let tare = self.tare_g.unwrap_or_default().checked_mul(containers.into());
        let net = tare.and_then(|tare| gross_g.checked_sub(tare)).ok_or(QuantityTooLarge)?;
        let net = net.max(Decimal::ZERO);
        self.booked_quantity(Amount { number: net, unit: Unit::G })
    }
}

/// A ratio that a product is used at, and what the shop calls it.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedRatio {
    /// The concentrate.
    pub product: Id,
    /// What the shop calls it: "wheels", "heavy".
    pub label: String,
    /// Parts of water.
    pub ratio: Ratio,
}

/// Who sells it.
#[derive(Debug, Clone, PartialEq)]
pub struct Supplier {
    /// The shop's own id.
    pub id: Id,
    /// Its name.
    pub name: String,
    /// Days from order to shelf, as the supplier says.
    pub lead_days: Decimal,
    /// How much that varies (standard deviation, days).
    pub lead_days_sd: Option<Decimal>,
    /// Weekdays on which it takes orders; empty: any.
    pub order_weekdays: Vec<chrono::Weekday>,
    /// What one delivery costs.
    pub freight: Money,
    /// Goods from this value on come freight free.
    pub free_freight_over: Option<Money>,
    /// The least value of goods it takes an order for.
    pub minimum_order: Money,
}

impl Supplier {
    /// What the delivery of goods of this value costs.
    #[must_use]
    pub fn freight_of(&self, goods: Money) -> Money {
        match self.free_freight_over {
            Some(over) if goods >= over => Money::ZERO,
            _ => self.freight,
        }
    }
}

/// One way to buy one product.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// Who sells.
    pub supplier: Id,
    /// What.
    pub product: Id,
    /// Containers in a pack.
    pub pack: u32,
    /// Price of the pack.
    pub price: Money,
    /// The supplier's code.
    pub code: Option<String>,
    /// The least packs it sells.
    pub minimum_packs: u32,
    /// Whether the shop would rather buy it here.
    pub preferred: bool,
}

/// A service that the shop sells.
#[derive(Debug, Clone, PartialEq)]
pub struct JobType {
    /// The shop's own id.
    pub id: Id,
    /// Its name.
    pub name: String,
    /// What the shop asks for it.
    pub price: Option<Money>,
    /// What one stalled job of it costs.
    pub stall_cost: Option<Money>,
    /// Some of these jobs come back.
    pub comes_back: Option<ComesBack>,
}

/// A share of a job type's vehicles comes back after so many days for another.
#[derive(Debug, Clone, PartialEq)]
pub struct ComesBack {
    /// After so many days.
    pub days: u32,
    /// This share of the jobs.
    pub share: Decimal,
    /// For this job type; empty: for the same.
    pub job_type: Option<Id>,
}

/// What the owner expects one job type to take of one product, at medium size and condition 3.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRow {
    /// The service.
    pub job_type: Id,
    /// The product.
    pub product: Id,
    /// How much, when it is used; of the mix where `ratio` is not neat.
    pub amount: Amount,
    /// The ratio that it is used at, as written; `None` is neat.
    pub ratio: Option<Ratio>,
    /// How often it is used at all.
    pub share_of_jobs: Option<Decimal>,
    /// How sure the owner is: standard deviation of the logarithm.
    pub log_sd: Option<Decimal>,
}

impl SheetRow {
    /// What it takes as product as bought, in ledger units.
    ///
    /// # Errors
    /// [`WrongMeasure`] where its unit does not fit the product.
    pub fn quantity(&self, product: &Product) -> Result<Quantity, WrongMeasure> {
        product.quantity_in_mix(self.amount, self.ratio.unwrap_or(Ratio::NEAT))
    }
}
