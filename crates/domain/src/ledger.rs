//! The ledger: an append-only list of movements, and the shelf that is their sum.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};

use crate::catalog::Product;
use crate::container::{Container, ContainerState, Lot, Opened};
use crate::id::{ContainerId, Id};
use crate::quantity::{Quantity, Unit};
use crate::ratio::Ratio;
use crate::shelf::{Shelf, Turn};
use crate::shop::Shop;

/// What a movement is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MovementKind {
    /// Came in.
    Received,
    /// Opened; moves nothing.
    Opened,
    /// Out of a container into a mix, or into the mix.
    Mixed,
    /// Out for a job.
    Poured,
    /// What somebody saw, less the books.
    Counted,
    /// Thrown away.
    Discarded,
    /// Sent back.
    Returned,
    /// Undoes another.
    Reversed,
}

/// What a movement did to its container beside the change in quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Effect {
    /// Nothing.
    None,
    /// Opened it; `seen`: somebody said so.
    Opens {
        /// Whether somebody said so.
        seen: bool,
    },
    /// Showed that it had not been opened.
    Reseals,
    /// Threw it away.
    Discards,
    /// Showed that it had not been thrown away.
    Restores,
}

/// The row that a movement comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// A receipt.
    Receipt(Id),
    /// An opening.
    Opening(Id),
    /// A mix.
    Mix(Id),
    /// A pour.
    Pour(Id),
    /// A done job with no measured pour of the product: its expected usage.
    Expected(Id),
    /// A discard.
    Discard(Id),
    /// A count.
    Count(Id),
}

impl Source {
    /// The row's id.
    #[must_use]
    pub const fn id(&self) -> &Id {
        match self {
            Self::Receipt(id)
            | Self::Opening(id)
            | Self::Mix(id)
            | Self::Pour(id)
            | Self::Expected(id)
            | Self::Discard(id)
            | Self::Count(id) => id,
        }
    }
}

/// One line of the ledger. Never edited, never deleted.
#[derive(Debug, Clone, PartialEq)]
pub struct Movement {
    /// When it happened.
    pub at: DateTime<Utc>,
    /// What it is.
    pub kind: MovementKind,
    /// Of what.
    pub product: Id,
    /// Into or out of which container.
    pub container: ContainerId,
    /// What the container gained, negative where it lost.
    pub change: Quantity,
    /// What else it did.
    pub effect: Effect,
    /// The row it comes from.
    pub source: Source,
    /// The job it was for.
    pub job: Option<Id>,
    /// The place of the movement that it undoes.
    pub reverses: Option<usize>,
}

/// Stock that the books did not hold when it was poured: the product wants a count.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundStock {
    /// When.
    pub at: DateTime<Utc>,
    /// How much more than the books held.
    pub surplus: Quantity,
    /// Whether the pour was measured, and not merely expected.
    pub measured: bool,
    /// What it was taken for: poured, mixed or discarded; `None`: more than one of these.
    pub kind: Option<MovementKind>,
}

/// What an opening meant for the shelf.
#[derive(Debug, Clone, PartialEq)]
pub struct OpeningSaid {
    /// The container that it opened; `None`: it named one that was not sealed, and opened none.
    pub opened: Option<ContainerId>,
    /// Whether no receipt had brought that one.
    pub found: bool,
    /// The container in use before, taken to be used up, and what the books held in it then.
    pub used_up: Option<(ContainerId, Quantity)>,
}

/// Why a row cannot be reversed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CannotReverse {
    /// Nothing of it stands in the ledger.
    #[error("no movement of `{0}` stands in the ledger, or it was reversed before")]
    NothingToReverse(Id),
    /// A container would hold less than nothing.
    #[error("container `{container}` would hold {} {unit} less than nothing: reverse what was \
             taken from it first", left.abs().in_unit(*unit))]
    BelowNothing {
        /// Which.
        container: ContainerId,
        /// What would be left, in ledger units.
        left: Quantity,
        /// The unit of its product.
        unit: Unit,
    },
}

/// The movements of a shop and the shelf that they add up to.
#[derive(Debug, Clone)]
pub struct Ledger {
    shop: Arc<Shop>,
    pub(crate) shelves: Vec<Shelf>,
    pub(crate) shelf_of: HashMap<Id, usize>,
    pub(crate) movements: Vec<Movement>,
    pub(crate) reversed: Vec<bool>,
    pub(crate) containers: Vec<Container>,
    pub(crate) standing: Vec<Standing>,
    pub(crate) place: HashMap<ContainerId, usize>,
    /// Names of containers that are kept elsewhere.
    pub(crate) taken: HashSet<ContainerId>,
    /// Places of containers by the name they should bear and their product, where a container of
    /// another row bore that name already (ids are unique in their file only).
    pub(crate) also_named: HashMap<(ContainerId, Id), usize>,
}

/// Where a container stands: its product's shelf and its turn there.
#[derive(Debug, Clone)]
pub(crate) struct Standing {
    pub shelf: usize,
    pub turn: Option<Turn>,
    /// What came into it and was not reversed; nothing: it was never there.
    pub gained: Quantity,
}

/// When and why something is posted.
#[derive(Debug, Clone)]
pub(crate) struct Posting {
    pub at: DateTime<Utc>,
    pub source: Source,
    pub job: Option<Id>,
}

impl Ledger {
    /// An empty ledger for these products.
    #[must_use]
    pub fn new<'a>(shop: &Shop, products: impl IntoIterator<Item = &'a Product>) -> Self {
        let shelves: Vec<Shelf> = products.into_iter().map(Shelf::new).collect();
        let numbered = shelves.iter().enumerate();
        let shelf_of = numbered.map(|(number, shelf)| (shelf.product.id.clone(), number)).collect();
        Self {
            shop: Arc::new(shop.clone()),
            shelves,
            shelf_of,
            movements: Vec::new(),
            reversed: Vec::new(),
            containers: Vec::new(),
            standing: Vec::new(),
            place: HashMap::new(),
            taken: HashSet::new(),
            also_named: HashMap::new(),
        }
    }

    /// Every movement, in the order they were posted.
    #[must_use]
    pub fn movements(&self) -> &[Movement] {
        &self.movements
    }

    /// The movements that stand: none that was reversed, and none that reverses.
    pub fn standing(&self) -> impl Iterator<Item = &Movement> {
        let all = self.movements.iter().zip(&self.reversed);
        all.filter(|(m, reversed)| !**reversed && m.reverses.is_none()).map(|(m, _)| m)
    }

    /// Every container that ever stood on the shelf, in the order they came.
    #[must_use]
    pub fn containers(&self) -> &[Container] {
        &self.containers
    }

    /// One container.
    #[must_use]
    pub fn container(&self, id: &ContainerId) -> Option<&Container> {
        self.place.get(id).map(|place| &self.containers[*place])
    }

    /// The container that a row names: its product's container of that name, or the one that
    /// bears another since the name was taken when it came. Before an opening is told, its
    /// [`Container::state`] says whether there is something to open.
    #[must_use]
    pub fn container_named(&self, id: &ContainerId, product: &Id) -> Option<&Container> {
        self.named(id, product).map(|place| &self.containers[place])
    }

    /// What an opening meant, as long as it stands; `None` where it does not.
    #[must_use]
    pub fn opening_said(&self, opening: &Id) -> Option<OpeningSaid> {
        let own = |m: &&Movement| matches!(&m.source, Source::Opening(id) if id == opening);
        let standing: Vec<&Movement> = self.standing().filter(own).collect();
        let opens = standing.iter().find(|m| matches!(m.effect, Effect::Opens { .. }));
        let opened = opens.map(|m| m.container.clone());
        let found = opened.as_ref().and_then(|id| self.container(id));
        let emptied = standing.iter().find(|m| m.change < Quantity::ZERO);
        let used_up = emptied.map(|m| (m.container.clone(), -m.change));
        (!standing.is_empty()).then(|| OpeningSaid {
            opened,
            found: found.is_some_and(|container| container.lot.source == *opening),
            used_up,
        })
    }

    /// The product that an id names.
    #[must_use]
    pub fn product(&self, id: &Id) -> Option<&Product> {
        self.shelf(id).map(|shelf| shelf.product.as_ref())
    }

    /// The containers of a product with something in them, in the order they are poured on `day`.
    #[must_use]
    pub fn live_containers(&self, product: &Id, day: NaiveDate) -> Vec<&Container> {
        self.in_turn(product, day).map(|place| &self.containers[place]).collect()
    }

    /// Everything left of a product, past its use-by or not.
    #[must_use]
    pub fn left_of(&self, product: &Id) -> Quantity {
        let live = self.shelf(product).into_iter().flat_map(Shelf::live);
        live.map(|place| self.containers[place].left).sum()
    }

    /// Products of which more was taken than the books held, since their last count.
    #[must_use]
    pub fn found_stock(&self) -> BTreeMap<Id, FoundStock> {
        let mut found = BTreeMap::<Id, FoundStock>::new();
        for (movement, reversed) in self.movements.iter().zip(&self.reversed) {
            if *reversed || movement.kind != MovementKind::Counted {
                continue;
            }
            let measured = match &movement.source {
                Source::Count(_) => {
                    found.remove(&movement.product);
                    continue;
                }
                Source::Opening(_) => continue,
                Source::Expected(_) => false,
                _ => true,
            };
            let kind = match &movement.source {
                Source::Mix(_) => MovementKind::Mixed,
                Source::Discard(_) => MovementKind::Discarded,
                _ => MovementKind::Poured,
            };
            let (at, surplus) = (movement.at, Quantity::ZERO);
            let none = FoundStock { at, surplus, measured: false, kind: Some(kind) };
            let known = found.entry(movement.product.clone()).or_insert(none);
            known.at = movement.at;
            known.kind = known.kind.filter(|own| *own == kind);
            known.surplus += movement.change;
            known.measured |= measured;
        }
        found
    }

    /// Containers whose books differ from the sum of their movements; none, if all is well.
    #[must_use]
    pub fn differences(&self) -> Vec<(ContainerId, Quantity, Quantity)> {
        let mut sums: HashMap<&ContainerId, Quantity> = HashMap::new();
        for movement in &self.movements {
            *sums.entry(&movement.container).or_default() += movement.change;
        }
        let sum_of = |c: &Container| sums.get(&c.id).copied().unwrap_or_default();
        let off = self.containers.iter().filter(|c| c.left != sum_of(c) || c.left < Quantity::ZERO);
        off.map(|c| (c.id.clone(), c.left, sum_of(c))).collect()
    }

    /// Undoes every movement that a row made, latest first, each by a new movement that names it.
    ///
    /// # Errors
    /// [`CannotReverse`] where nothing of it stands or a container would hold less than nothing;
    /// nothing is changed then.
    pub fn reverse(&mut self, source: &Source, at: DateTime<Utc>) -> Result<(), CannotReverse> {
        let numbers = self.standing_of(source);
        if numbers.is_empty() {
            return Err(CannotReverse::NothingToReverse(source.id().clone()));
        }
        self.check_reversal(&numbers)?;
        self.undo(source, at);
        Ok(())
    }

    /// The places of a row's movements that stand.
    fn standing_of(&self, source: &Source) -> Vec<usize> {
        (0..self.movements.len())
            .filter(|&i| self.movements[i].source == *source)
            .filter(|&i| !self.reversed[i] && self.movements[i].reverses.is_none())
            .collect()
    }

    /// The same whatever it leaves, less than nothing too, for books that are then held against
    /// what their rows come to without it.
    pub fn undo(&mut self, source: &Source, at: DateTime<Utc>) {
        let mut numbers = self.standing_of(source);
        numbers.reverse();
        for &number in &numbers {
            let old = self.movements[number].clone();
            let Some(place) = self.place_of(&old.container) else { continue };
            self.reversed[number] = true;
            let undone = Movement {
                at,
                kind: MovementKind::Reversed,
                change: -old.change,
                effect: Effect::None,
                reverses: Some(number),
                ..old
            };
            self.append(place, undone);
        }
        let touched = numbers.iter().filter_map(|n| self.place_of(&self.movements[*n].container));
        for place in touched.collect::<BTreeSet<_>>() {
            self.refold(place);
            self.throw_the_rest_away(place, at);
        }
    }

    /// What comes back into a container that was thrown away was thrown away with it.
    fn throw_the_rest_away(&mut self, place: usize, at: DateTime<Utc>) {
        let container = &self.containers[place];
        if !container.discarded || container.left.is_zero() {
            return;
        }
        let standing = self.movements.iter().zip(&self.reversed).rev().filter(|(_, r)| !**r);
        let discards = |m: &Movement| m.effect == Effect::Discards && m.container == container.id;
        if let Some((thrown, _)) = standing.into_iter().find(|(m, _)| discards(m)) {
            let rest =
                Movement { at, change: -container.left, effect: Effect::None, ..thrown.clone() };
            self.append(place, rest);
        }
    }

    fn check_reversal(&self, numbers: &[usize]) -> Result<(), CannotReverse> {
        let mut left: BTreeMap<&ContainerId, Quantity> = BTreeMap::new();
        for &number in numbers {
            let movement = &self.movements[number];
            let now = self.container(&movement.container).map_or(Quantity::ZERO, |c| c.left);
            *left.entry(&movement.container).or_insert(now) -= movement.change;
        }
        match left.into_iter().find(|(_, left)| *left < Quantity::ZERO) {
            Some((id, left)) => {
                let product = self.container(id).and_then(|c| self.product(&c.product));
                let unit = product.map_or(Unit::Each, |product| product.unit);
                Err(CannotReverse::BelowNothing { container: id.clone(), left, unit })
            }
            None => Ok(()),
        }
    }

    /// Works a container's state out again from the movements that still stand.
    fn refold(&mut self, place: usize) {
        let container = &self.containers[place];
        let mut left = Quantity::ZERO;
        let mut opened = None;
        let mut discarded = false;
        for (movement, reversed) in self.movements.iter().zip(&self.reversed) {
            if *reversed || movement.reverses.is_some() || movement.container != container.id {
                continue;
            }
            left += movement.change;
            let counted = movement.kind == MovementKind::Counted;
            let taken = movement.change < Quantity::ZERO && (!counted || left < container.size);
            match movement.effect {
                Effect::Opens { seen } => opened = Some(self.opened(movement.at, seen)),
                Effect::Reseals => opened = None,
                Effect::Discards => discarded = true,
                Effect::Restores => discarded = false,
                // What opened it was reversed, and still something was taken from it.
                Effect::None if taken && opened.is_none() && !discarded => {
                    let is_mix = container.mix.is_some();
                    opened = (!is_mix).then(|| self.opened(movement.at, false));
                }
                Effect::None => {}
            }
        }
        let container = &mut self.containers[place];
        container.opened = opened;
        container.discarded = discarded;
        self.note_turn(place);
    }

    fn opened(&self, at: DateTime<Utc>, seen: bool) -> Opened {
        Opened { at, on: self.shop.day_of(at), seen }
    }

    fn append(&mut self, place: usize, movement: Movement) {
        let gain = match movement.reverses {
            Some(_) => movement.change.min(Quantity::ZERO),
            None => movement.change.or_zero(),
        };
        self.standing[place].gained += gain;
        self.containers[place].left += movement.change;
        self.note_turn(place);
        self.movements.push(movement);
        self.reversed.push(false);
    }

    /// Puts a container where it belongs among those that are poured.
    pub(crate) fn note_turn(&mut self, place: usize) {
        let standing = &mut self.standing[place];
        let shelf = &mut self.shelves[standing.shelf];
        let turn = shelf.turn_of(&self.containers[place], place);
        shelf.change_turn(standing.turn, turn);
        standing.turn = turn;
    }

    fn shelf(&self, product: &Id) -> Option<&Shelf> {
        self.shelf_of.get(product).map(|number| &self.shelves[*number])
    }

    // ---- what the postings are made of

    pub(crate) fn shop(&self) -> &Shop {
        &self.shop
    }

    pub(crate) fn shared_product(&self, id: &Id) -> Option<Arc<Product>> {
        self.shelf(id).map(|shelf| Arc::clone(&shelf.product))
    }

    pub(crate) fn at(&self, place: usize) -> &Container {
        &self.containers[place]
    }

    fn place_of(&self, id: &ContainerId) -> Option<usize> {
        self.place.get(id).copied()
    }

    /// The container of a product that a row names.
    pub(crate) fn named(&self, id: &ContainerId, product: &Id) -> Option<usize> {
        let own = self.place_of(id).filter(|place| self.containers[*place].product == *product);
        own.or_else(|| self.also_named.get(&(id.clone(), product.clone())).copied())
    }

    /// Places of the live containers of a product, FEFO on `day`.
    pub(crate) fn in_turn(&self, product: &Id, day: NaiveDate) -> impl Iterator<Item = usize> {
        self.shelf(product).into_iter().flat_map(move |shelf| shelf.in_turn(day))
    }

    /// Places of the live containers of a product, FEFO on `day`.
    pub(crate) fn live_places(&self, product: &Id, day: NaiveDate) -> Vec<usize> {
        self.in_turn(product, day).collect()
    }

    /// Places of all containers of a product, the last to come first.
    pub(crate) fn latest_places(&self, product: &Id) -> impl Iterator<Item = usize> {
        self.shelf(product).into_iter().flat_map(|shelf| shelf.places.iter().rev().copied())
    }

    /// Places of a product's used-up containers, the last to come first.
    pub(crate) fn empty_places(&self, product: &Id) -> impl Iterator<Item = usize> {
        let is_empty = |c: &Container| c.state() == ContainerState::Empty && c.mix.is_none();
        let was_there = |place: usize| self.standing[place].gained > Quantity::ZERO;
        let all = self.latest_places(product);
        all.filter(move |place| is_empty(&self.containers[*place]) && was_there(*place))
    }

    pub(crate) fn post(
        &mut self,
        posting: &Posting,
        place: usize,
        kind: MovementKind,
        change: Quantity,
        effect: Effect,
    ) {
        match effect {
            Effect::Opens { seen } => {
                self.containers[place].opened = Some(self.opened(posting.at, seen));
            }
            Effect::Reseals => self.containers[place].opened = None,
            Effect::Discards => self.containers[place].discarded = true,
            Effect::Restores => self.containers[place].discarded = false,
            Effect::None => {}
        }
        let container = &self.containers[place];
        let movement = Movement {
            at: posting.at,
            kind,
            product: container.product.clone(),
            container: container.id.clone(),
            change,
            effect,
            source: posting.source.clone(),
            job: posting.job.clone(),
            reverses: None,
        };
        self.append(place, movement);
    }

    /// Puts an empty container on the shelf, to be filled by the next movement. Where its name is
    /// taken it gets the next free one of the same row.
    pub(crate) fn add_container(
        &mut self,
        posting: &Posting,
        product: &Product,
        id: ContainerId,
        size: Quantity,
        lot: &Arc<Lot>,
    ) -> usize {
        let place = self.containers.len();
        let source = posting.source.id();
        let mut free = (1..).map(|n| ContainerId::of(source, n)).filter(|id| self.is_free(id));
        let name = if self.is_free(&id) { None } else { free.next() };
        if name.is_some() {
            self.also_named.entry((id.clone(), product.id.clone())).or_insert(place);
        }
        let id = name.unwrap_or(id);
        let container = Container {
            id: id.clone(),
            product: product.id.clone(),
            lot: Arc::clone(lot),
            size,
            left: Quantity::ZERO,
            came_at: posting.at,
            opened: None,
            discarded: false,
            mix: None,
            sealed_use_by: lot.best_before,
        };
        self.containers.push(container);
        self.place.insert(id, place);
        let shelf = self.shelf_of.get(&product.id).copied().unwrap_or_default();
        self.shelves[shelf].places.push(place);
        self.standing.push(Standing { shelf, turn: None, gained: Quantity::ZERO });
        place
    }

    fn is_free(&self, id: &ContainerId) -> bool {
        !self.place.contains_key(id) && !self.taken.contains(id)
    }

    pub(crate) fn set_mix(&mut self, place: usize, ratio: Ratio, use_by: Option<NaiveDate>) {
        self.containers[place].mix = Some(ratio);
        self.containers[place].sealed_use_by = use_by;
    }
}
