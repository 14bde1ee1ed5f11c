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
    /// The first day on which it is no longer good.
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

    /// Takes the containers away that are no longer good on this day.
    pub fn take_expired(&mut self, product: usize, day: NaiveDate) -> Vec<Container> {
        let (bad, good) = std::mem::take(&mut self.containers[product])
            .into_iter()
            .partition(|c| c.use_by.is_some_and(|use_by| use_by <= day));
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
