//! Reads a body field by field: what is wrong is told, and the reading goes on to the next.

use capful_domain::catalog::WrongMeasure;
use capful_domain::{Amount, ContainerId, Id, Money, Product, Ratio, Shop, Unit, Word};
use capful_folder::cells::{self, Parsed, Wrong};
use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use rust_decimal::Decimal;

use crate::api::Api;
use crate::known::Known;
use crate::problem::{Kind, OneError, Problem};

/// How far ahead the clock of a caller may go; what it says is taken as now.
const AHEAD: TimeDelta = TimeDelta::minutes(2);

/// Characters of a text that are shown; a longer one is cut.
const SHOWN: usize = 80;

/// Reads the fields of one body.
pub(crate) struct Reader<'r> {
    api: &'r Api,
    known: &'r Known,
    now: DateTime<Utc>,
    /// What stands before the name of a field: `pours[0].`.
    under: String,
    errors: Vec<OneError>,
}

impl<'r> Reader<'r> {
    /// Begins to read a body that came now.
    pub(crate) const fn new(api: &'r Api, known: &'r Known, now: DateTime<Utc>) -> Self {
        Self { api, known, now, under: String::new(), errors: Vec::new() }
    }

    /// The shop's settings.
    pub(crate) const fn shop(&self) -> &Shop {
        &self.known.shop
    }

    /// A product that is known.
    pub(crate) fn product(&self, id: &Id) -> Option<&'r Product> {
        self.known.products.get(id)
    }

    /// Reads something that stands under a name, such as `lines[2].`.
    pub(crate) fn under<T>(&mut self, place: &str, read: impl FnOnce(&mut Self) -> T) -> T {
        let before = self.under.len();
        self.under.push_str(place);
        let value = read(self);
        self.under.truncate(before);
        value
    }

    /// Reads each item of a list; `None` where one is wrong.
    pub(crate) fn each<T, U>(
        &mut self,
        name: &str,
        items: &[T],
        read: impl Fn(&mut Self, &T) -> Option<U>,
    ) -> Option<Vec<U>> {
        let items = items.iter().enumerate();
        let all: Vec<Option<U>> = items
            .map(|(index, item)| self.under(&format!("{name}[{index}]."), |r| read(r, item)))
            .collect();
        all.into_iter().collect()
    }

    /// Tells that a field is wrong.
    pub(crate) fn wrong(&mut self, field: &str, found: &str, expected: &str) {
        let found = match found.char_indices().nth(SHOWN) {
            Some((end, _)) => format!("{}…", &found[..end]),
            None => found.to_owned(),
        };
        let detail = match found.as_str() {
            "" => format!("found nothing, expected {expected}"),
            found => format!("found {found:?}, expected {expected}"),
        };
        let field = format!("{}{field}", self.under);
        self.errors.push(OneError { field, detail });
    }

    /// A field by its rule.
    pub(crate) fn read<T>(
        &mut self,
        field: &str,
        text: &str,
        rule: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        match rule(text) {
            Ok(value) => return Some(value),
            Err(Wrong::Expected(expected)) => self.wrong(field, text, &expected),
            Err(Wrong::ToldElsewhere) => self.wrong(field, text, "something else"),
        }
        None
    }

    /// A field that may be missing.
    pub(crate) fn maybe<T, S: AsRef<str>>(
        &mut self,
        field: &str,
        text: Option<&S>,
        rule: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        self.read(field, text?.as_ref(), rule)
    }

    /// Each text of a list by the same rule.
    pub(crate) fn texts<T>(
        &mut self,
        field: &str,
        texts: &[String],
        rule: impl Fn(&str) -> Parsed<T>,
    ) -> Vec<T> {
        let texts = texts.iter().enumerate();
        texts.filter_map(|(i, t)| self.read(&format!("{field}[{i}]"), t, &rule)).collect()
    }

    /// The id of a new row: the caller's, or one made for it.
    pub(crate) fn new_id(&mut self, id: Option<&String>) -> Option<Id> {
        match id {
            Some(text) => self.read("id", text, cells::id),
            None => self.api.store.new_id(self.now),
        }
    }

    /// The id that a body repeats of its address.
    pub(crate) fn same_id(&mut self, id: &Id, text: Option<&String>) {
        if let Some(text) = text.filter(|text| *text != id.as_str()) {
            self.wrong("id", text, &format!("{id}, as the address has it, or none"));
        }
    }

    /// A moment that is not ahead; now, where there is none.
    pub(crate) fn time(&mut self, field: &str, text: Option<&String>) -> Option<DateTime<Utc>> {
        let Some(text) = text else { return Some(self.now) };
        let shop = self.shop().clone();
        let at = self.read(field, text, |text| cells::time(text, &shop))?;
        if at > self.now + AHEAD {
            let now = cells::write_time(self.now, &shop);
            self.wrong(field, text, &format!("a time that has come; it is {now} now"));
            return None;
        }
        // No finer than the store keeps it.
        Some(at.min(self.now).trunc_subsecs(6))
    }

    /// Money, to the minor unit.
    pub(crate) fn money(&mut self, field: &str, text: &str) -> Option<Money> {
        let currency = self.shop().currency;
        let (money, exact) = self.read(field, text, |text| cells::money(text, currency))?;
        if exact {
            return Some(money);
        }
        let nearest = money.to_decimal(currency);
        let expected = format!("money no finer than {currency} is counted, such as {nearest}");
        self.wrong(field, text, &expected);
        None
    }

    /// Money that may be missing.
    pub(crate) fn maybe_money<S: AsRef<str>>(
        &mut self,
        field: &str,
        text: Option<&S>,
    ) -> Option<Money> {
        self.money(field, text?.as_ref())
    }

    /// One word out of a fixed list.
    pub(crate) fn word<T: Word>(&mut self, field: &str, text: Option<&String>) -> Option<T> {
        self.maybe(field, text, cells::word)
    }

    /// Parts of water.
    pub(crate) fn water<S: AsRef<str>>(&mut self, text: Option<&S>) -> Option<Ratio> {
        self.maybe("water", text, cells::ratio)
    }

    /// A container's name.
    pub(crate) fn container(&mut self, text: Option<&String>) -> Option<ContainerId> {
        self.maybe("container", text, |text| match ContainerId::parse(text) {
            Ok(container) => Ok(container),
            Err(_) => cells::expected(
                "a container such as R-0412/1, or the id of a mix; /api/v1/containers lists them",
            ),
        })
    }

    /// `quantity` and `unit`, fit for the product; without a unit it is the product's own.
    pub(crate) fn amount(
        &mut self,
        product: Option<&Id>,
        quantity: &str,
        unit: Option<&String>,
    ) -> Option<Amount> {
        self.amount_of_mix(product, quantity, unit, None)
    }

    /// The same of a mix, where a ratio is given.
    pub(crate) fn amount_of_mix(
        &mut self,
        product: Option<&Id>,
        quantity: &str,
        unit: Option<&String>,
        ratio: Option<Ratio>,
    ) -> Option<Amount> {
        let number = self.read("quantity", quantity, cells::decimal);
        let product = product.and_then(|id| self.product(id));
        let unit = match (unit, product) {
            (Some(text), _) => self.read("unit", text, cells::unit),
            (None, Some(product)) => Some(product.unit),
            // The store tells that there is no such product.
            (None, None) => Some(Unit::Ml),
        };
        let amount = Amount { number: number?, unit: unit? };
        self.fits(product, amount, ratio.unwrap_or(Ratio::NEAT))
    }

    fn fits(&mut self, product: Option<&Product>, amount: Amount, ratio: Ratio) -> Option<Amount> {
        let Some(product) = product else { return Some(amount) };
        match product.quantity_in_mix(amount, ratio) {
            Ok(_) => return Some(amount),
            Err(wrong @ (WrongMeasure::TooLarge(_) | WrongMeasure::TooSmall { .. })) => {
                self.wrong("quantity", &amount.number.to_string(), &wrong.to_string());
            }
            Err(WrongMeasure::Dimension { expected }) => {
                let fits = fitting(expected);
                let expected = format!("a unit that fits `{}`: {fits}", product.id);
                self.wrong("unit", amount.unit.symbol(), &expected);
            }
        }
        None
    }

    /// `gross_g`, of a product that can be weighed.
    pub(crate) fn gross_g(&mut self, product: Option<&Id>, text: &str) -> Option<Decimal> {
        let number = self.read("gross_g", text, cells::grams)?;
        let product = product.and_then(|id| self.product(id));
        let grams = Amount { number, unit: Unit::G };
        match product.map(|product| product.quantity(grams)) {
            Some(Err(WrongMeasure::Dimension { expected })) => {
                let expected = format!("nothing: a product in {expected} is not weighed");
                self.wrong("gross_g", text, &expected);
                None
            }
            _ => Some(number),
        }
    }

    /// The value that was read, where nothing was wrong.
    ///
    /// # Errors
    /// A problem that names every field that is wrong.
    pub(crate) fn end<T>(self, value: Option<T>) -> Result<T, Problem> {
        let mut errors = self.errors;
        match (value, errors.len()) {
            (Some(value), 0) => Ok(value),
            (_, 1) => {
                let OneError { field, detail } = errors.remove(0);
                let field = Some(field).filter(|field| !field.is_empty());
                Err(Problem { field, ..Problem::new(Kind::BadBody, detail) })
            }
            (_, count) => {
                let field = errors.first().map(|error| error.field.clone());
                let detail = format!("{count} fields are not as they should be");
                Err(Problem { field, errors, ..Problem::new(Kind::BadBody, detail) })
            }
        }
    }
}

/// The units of a kind.
fn fitting(unit: Unit) -> String {
    let same = Unit::ALL.into_iter().filter(|other| other.dimension() == unit.dimension());
    same.map(Unit::symbol).collect::<Vec<_>>().join(", ")
}
