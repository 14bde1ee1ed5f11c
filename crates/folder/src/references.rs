//! What rows of one file may name in another: ids, containers, and units that fit a product.
//!
//! Taken from the raw tables before their rows are checked, so that a row with a wrong cell is
//! still a row that others may name.

use std::collections::{HashMap, HashSet};

use capful_domain::catalog::WrongMeasure;
use capful_domain::{Amount, ContainerId, Id, Product, Ratio, Unit};
use rust_decimal::Decimal;

use crate::cells::{self, Parsed, Wrong, expected};
use crate::read::Tables;
use crate::row::Row;
use crate::table::{Table, TableRow};

/// The ids of one file.
#[derive(Debug, Default)]
pub(crate) struct Ids<'t> {
    /// `None` where the text is no id, which is told in its own file.
    ids: HashMap<&'t str, Option<Id>>,
    unsure: bool,
}

impl<'t> Ids<'t> {
    fn of(table: &'t Table<'t>) -> Self {
        let texts = table.rows.iter().filter_map(|row| table.cell(row, "id"));
        let ids = texts.map(|text| (text, Id::parse(text).ok())).collect();
        Self { ids, unsure: unsure(table) }
    }

    /// The id that a cell names; `what` it should name.
    fn find(&self, text: &str, what: &str) -> Parsed<Id> {
        match self.ids.get(text) {
            Some(Some(id)) => Ok(id.clone()),
            Some(None) => Err(Wrong::ToldElsewhere),
            None if self.unsure => Id::parse(text).or_else(|_| expected(what)),
            None => expected(what),
        }
    }
}

/// Whether rows of a table may go by another id than stands there: some row is broken, or has an
/// id that is none, or another row's. That is told; what names the row that was meant is not wrong
/// too.
fn unsure(table: &Table) -> bool {
    let whole = table.rows.iter().filter(|row| !row.broken);
    let ids = whole.filter_map(|row| table.cell(row, "id"));
    let right: HashSet<_> = ids.filter(|text| Id::parse(text).is_ok()).collect();
    table.unsure || right.len() < table.rows.len()
}

/// Rows that containers come from: a receipt, a mix, or a count or opening that found some.
#[derive(Debug, Default)]
struct Sources<'t> {
    rows: HashMap<&'t str, Source<'t>>,
    unsure: bool,
}

/// A row that containers come from.
#[derive(Debug)]
struct Source<'t> {
    product: &'t str,
    /// How many; `None` where that is not bounded, or not readable.
    containers: Option<u32>,
}

impl<'t> Sources<'t> {
    fn of(table: &'t Table<'t>) -> Self {
        let source = |row: &TableRow| {
            let cell = |column| table.cell(row, column).filter(|_| !row.broken);
            let containers = cell("containers").and_then(|text| cells::containers(text).ok());
            let product = cell("product").unwrap_or_default();
            Some((table.cell(row, "id")?, Source { product, containers }))
        };
        Self { rows: table.rows.iter().filter_map(source).collect(), unsure: unsure(table) }
    }
}

/// What rows may name.
#[derive(Debug, Default)]
pub(crate) struct References<'t> {
    products: Ids<'t>,
    suppliers: Ids<'t>,
    job_types: Ids<'t>,
    jobs: Ids<'t>,
    orders: Ids<'t>,
    receipts: Sources<'t>,
    mixes: Sources<'t>,
    found: [Sources<'t>; 2],
    measures: HashMap<Id, Product>,
}

impl<'t> References<'t> {
    /// What the tables offer.
    pub(crate) fn of(tables: &'t Tables<'t>) -> Self {
        Self {
            products: Ids::of(&tables.products),
            suppliers: Ids::of(&tables.suppliers),
            job_types: Ids::of(&tables.job_types),
            jobs: Ids::of(&tables.jobs),
            orders: Ids::of(&tables.orders),
            receipts: Sources::of(&tables.receipts),
            mixes: Sources::of(&tables.mixes),
            found: [Sources::of(&tables.counts), Sources::of(&tables.openings)],
            measures: HashMap::new(),
        }
    }

    /// The products that were read, to hold units against.
    pub(crate) fn measure_by(&mut self, products: &[Product]) {
        self.measures = products.iter().map(|p| (p.id.clone(), p.clone())).collect();
    }

    /// A product that was read without fault.
    pub(crate) fn measure(&self, product: &Id) -> Option<&Product> {
        self.measures.get(product)
    }

    pub(crate) fn product(&self, text: &str) -> Parsed<Id> {
        self.products.find(text, "the id of a product in products.csv")
    }

    pub(crate) fn supplier(&self, text: &str) -> Parsed<Id> {
        self.suppliers.find(text, "the id of a supplier in suppliers.csv")
    }

    pub(crate) fn job_type(&self, text: &str) -> Parsed<Id> {
        self.job_types.find(text, "the id of a job type in job_types.csv")
    }

    pub(crate) fn job(&self, text: &str) -> Parsed<Id> {
        self.jobs.find(text, "the id of a job in jobs.csv")
    }

    pub(crate) fn order(&self, text: &str) -> Parsed<Id> {
        self.orders.find(text, "the id of an order in orders.csv")
    }

    /// The container that a cell names, of this product where the product is known.
    pub(crate) fn container(&self, text: &str, product: Option<&Id>) -> Parsed<ContainerId> {
        let Ok(container) = ContainerId::parse(text) else {
            return expected("a container: RECEIPT/1, COUNT/1, OPENING/1 or the id of a mix");
        };
        let name = container.source();
        let number = container.as_str().split_once('/').and_then(|(_, n)| n.parse::<u32>().ok());
        let Some(number) = number else {
            return match self.mixes.rows.get(name) {
                Some(mix) => self.of_product(container.clone(), [mix], product),
                None if self.mixes.unsure => Ok(container),
                None => expected("the id of a mix in mixes.csv, or RECEIPT/1"),
            };
        };
        let receipt = self.receipts.rows.get(name);
        let holds = |s: &&Source| s.containers.is_none_or(|most| number <= most);
        let sources = receipt.into_iter().chain(self.found.iter().filter_map(|s| s.rows.get(name)));
        let sources: Vec<_> = sources.filter(holds).collect();
        let unsure = self.receipts.unsure || self.found.iter().any(|s| s.unsure);
        match (sources.is_empty(), receipt) {
            (false, _) => self.of_product(container.clone(), sources, product),
            (true, Some(Source { containers: Some(most), .. })) => {
                expected(format!("a container of {name}, which brought {most}"))
            }
            (true, _) if unsure => Ok(container),
            (true, _) => {
                expected("a container of a row in receipts.csv, counts.csv or openings.csv")
            }
        }
    }

    fn of_product<'s>(
        &self,
        container: ContainerId,
        sources: impl IntoIterator<Item = &'s Source<'s>>,
        product: Option<&Id>,
    ) -> Parsed<ContainerId> {
        let Some(product) = product else {
            return Ok(container);
        };
        let mut other = "";
        for source in sources {
            // A source whose own product is wrong is told there.
            let known = self.products.ids.contains_key(source.product);
            if source.product == product.as_str() || !known {
                return Ok(container);
            }
            other = source.product;
        }
        expected(format!("a container of {product}; this one is of {other}"))
    }
}

impl Row<'_> {
    /// `quantity` and `unit`, both there, and fit for the product.
    pub(crate) fn required_amount(
        &mut self,
        product: Option<&Id>,
        references: &References,
    ) -> Option<Amount> {
        let number = self.required("quantity", cells::decimal);
        let unit = self.required("unit", cells::unit);
        self.amount(number?, unit?, product, references)
    }

    /// `quantity` and `unit`, either empty; without a unit it is the product's own.
    pub(crate) fn optional_amount(
        &mut self,
        product: Option<&Id>,
        references: &References,
    ) -> Option<Amount> {
        let number = self.optional("quantity", cells::decimal);
        let unit = self.optional("unit", cells::unit);
        if !self.has("quantity") && self.has("unit") {
            self.warn("unit", "a unit without a quantity, not read");
        }
        let own = || Some(references.measure(product?)?.unit);
        let unit = if self.has("unit") { unit } else { own() };
        self.amount(number?, unit?, product, references)
    }

    fn amount(
        &mut self,
        number: Decimal,
        unit: Unit,
        product: Option<&Id>,
        references: &References,
    ) -> Option<Amount> {
        let amount = Amount { number, unit };
        match references.measure(product?)?.quantity_in_mix(amount, self.ratio_beside()) {
            Ok(_) => return Some(amount),
            Err(WrongMeasure::Dimension { expected }) => {
                self.wrong("unit", &format!("a unit that fits a product in {expected}"));
            }
            Err(wrong @ (WrongMeasure::TooLarge(_) | WrongMeasure::TooSmall { .. })) => {
                self.wrong("quantity", &wrong.to_string());
            }
        }
        None
    }

    /// The ratio that the row's quantity is a mix of, where it is one; what is wrong with it is
    /// told where it is read.
    fn ratio_beside(&self) -> Ratio {
        cells::ratio(self.text("water").unwrap_or_default()).unwrap_or(Ratio::NEAT)
    }

    /// `gross_g`, of a product that can be weighed.
    pub(crate) fn gross_g(
        &mut self,
        product: Option<&Id>,
        references: &References,
    ) -> Option<Decimal> {
        let number = self.optional("gross_g", cells::decimal)?;
        let grams = Amount { number, unit: Unit::G };
        match references.measure(product?)?.booked_quantity(grams) {
            Ok(_) => return Some(number),
            Err(WrongMeasure::Dimension { expected }) => {
                let expected = format!("nothing: a product in {expected} is not weighed");
                self.wrong("gross_g", &expected);
            }
            Err(wrong @ (WrongMeasure::TooLarge(_) | WrongMeasure::TooSmall { .. })) => {
                self.wrong("gross_g", &wrong.to_string());
            }
        }
        None
    }
}
