//! What truly stands on the shelf, whatever the books say.

use capful_domain::{ContainerId, Product, Quantity, Ratio};
use chrono::{Days, NaiveDate};

/// One container, sealed or open. An empty one leaves the shelf.
#[derive(Debug, Clone)]
pub struct Container {
    /// Its name in the books.
    pub id: ContainerId,
    /// What is left in it; of the mix where it is one.
    pub left: Quantity,
    /// What it is cut with.
    pub ratio: Ratio,
    /// Whether the seal is broken.
    pub open: bool,
    /// The last day on which it is good.
    pub use_by: Option<NaiveDate>,
}

/// What one container gave.
#[derive(Debug, Clone)]
pub struct Draw {
    /// Which.
    pub container: ContainerId,
    /// How much; of the mix where it is one.
    pub amount: Quantity,
    /// Whether it was opened for this.
    pub opened: bool,
}

/// The containers of each product.
#[derive(Debug, Clone)]
pub struct Shelf {
    containers: Vec<Vec<Container>>,
    /// What jobs have taken of each product since the beginning.
    pub used: Vec<Quantity>,
}

impl Shelf {
    /// An empty shelf for so many products.
    pub fn new(products: usize) -> Self {
        Self { containers: vec![Vec::new(); products], used: vec![Quantity::ZERO; products] }
    }

    /// Puts a container on the shelf.
    pub fn put(&mut self, product: usize, container: Container) {
        self.containers[product].push(container);
    }

    /// The containers of a product.
    pub fn of(&self, product: usize) -> &[Container] {
        &self.containers[product]
    }

    /// All that is there of a product, mixes too, as product.
    pub fn total(&self, product: usize) -> Quantity {
        self.of(product).iter().map(|c| c.ratio.product_in(c.left)).sum()
    }

    /// What can be poured at this ratio: neat containers, or the mixes that are cut so.
    pub fn available(&self, product: usize, ratio: Ratio) -> Quantity {
        self.of(product).iter().filter(|c| c.ratio == ratio).map(|c| c.left).sum()
    }

    /// Takes so much, or all there is: open before sealed, then the earliest use-by.
    pub fn draw(
        &mut self,
        place: usize,
        product: &Product,
        ratio: Ratio,
        wanted: Quantity,
        day: NaiveDate,
    ) -> Vec<Draw> {
        let mut draws = Vec::new();
        let mut missing = wanted;
        while missing > Quantity::ZERO {
            let Some(next) = self.next(place, ratio) else { break };
            let container = &mut self.containers[place][next];
            let opened = !container.open;
            if opened {
                break_seal(container, product, day);
            }
            let amount = missing.min(container.left);
            container.left -= amount;
            missing -= amount;
            draws.push(Draw { container: container.id.clone(), amount, opened });
            if container.left.is_zero() {
                self.containers[place].remove(next);
            }
        }
        draws
    }

    /// Takes away the containers that are past their use-by on this day.
    pub fn take_expired(&mut self, product: usize, day: NaiveDate) -> Vec<Container> {
        let (bad, good) = std::mem::take(&mut self.containers[product])
            .into_iter()
            .partition(|c| c.use_by.is_some_and(|use_by| use_by < day));
        self.containers[product] = good;
        bad
    }

    /// Takes one container away, whatever is in it.
    pub fn take_container(&mut self, product: usize, id: &ContainerId) {
        self.containers[product].retain(|c| c.id != *id);
    }

    /// Loses some of one container.
    pub fn spill(&mut self, product: usize, id: &ContainerId, amount: Quantity) {
        for container in self.containers[product].iter_mut().filter(|c| c.id == *id) {
            container.left = (container.left - amount).or_zero();
        }
    }

    fn next(&self, product: usize, ratio: Ratio) -> Option<usize> {
        let last = NaiveDate::MAX;
        let of = self.of(product).iter().enumerate();
        of.filter(|(_, c)| c.ratio == ratio && c.left > Quantity::ZERO)
            .min_by_key(|(place, c)| (!c.open, c.use_by.unwrap_or(last), *place))
            .map(|(place, _)| place)
    }
}

fn break_seal(container: &mut Container, product: &Product, day: NaiveDate) {
    container.open = true;
    let opened = product.open_days.map(|days| day + Days::new(u64::from(days)));
    container.use_by = match (container.use_by, opened) {
        (Some(sealed), Some(opened)) => Some(sealed.min(opened)),
        (sealed, opened) => sealed.or(opened),
    };
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_domain::{Amount, Id, Unit};
    use rust_decimal::Decimal;

    use super::*;

    const HUNDRED: Quantity = Quantity::from_ledger_units(100_000);

    fn coating() -> Product {
        let size = Amount { number: Decimal::ONE_HUNDRED, unit: Unit::Ml };
        let id = Id::parse("coating").unwrap();
        Product { open_days: Some(21), ..Product::new(id, "Coating", size) }
    }

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, day).unwrap()
    }

    fn shelf() -> Shelf {
        let mut shelf = Shelf::new(1);
        for (name, use_by) in [("R-1/1", None), ("R-2/1", Some(day(25))), ("R-3/1", Some(day(20)))]
        {
            let id = ContainerId::parse(name).unwrap();
            let container =
                Container { id, left: HUNDRED, ratio: Ratio::NEAT, open: false, use_by };
            shelf.put(0, container);
        }
        shelf
    }

    #[test]
    fn the_earliest_use_by_is_poured_first_and_never_more_than_there_is() {
        let mut shelf = shelf();
        let draws = shelf.draw(0, &coating(), Ratio::NEAT, HUNDRED.times(2), day(1));
        let from: Vec<&str> = draws.iter().map(|draw| draw.container.as_str()).collect();
        assert_eq!(from, ["R-3/1", "R-2/1"]);
        let draws = shelf.draw(0, &coating(), Ratio::NEAT, HUNDRED.times(2), day(1));
        assert_eq!(draws.iter().map(|draw| draw.amount).sum::<Quantity>(), HUNDRED);
        assert_eq!(shelf.total(0), Quantity::ZERO);
    }

    #[test]
    fn opening_starts_the_open_life() {
        let mut shelf = shelf();
        shelf.draw(0, &coating(), Ratio::NEAT, HUNDRED.times(2).share(6, 5), day(1));
        assert_eq!(shelf.of(0)[0].use_by, Some(day(22)));
        assert!(shelf.take_expired(0, day(22)).is_empty());
        assert_eq!(shelf.take_expired(0, day(23)).len(), 1);
    }
}
