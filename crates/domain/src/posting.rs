//! How each row of a shop's history becomes movements: the rules of the shelf.

use std::sync::Arc;

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::catalog::Product;
use crate::container::{ContainerState, Lot};
use crate::facts::{Count, Discard, DiscardReason, Method, Mix, Opening, Pour, Receipt};
use crate::id::{ContainerId, Id};
use crate::ledger::{Effect, Ledger, MovementKind, Posting, Source};
use crate::money::Money;
use crate::quantity::{Amount, Quantity};
use crate::ratio::Ratio;
use crate::stocktake::Seen;

/// What a done job without a measured pour is taken to have used.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedPour {
    /// When the job ended.
    pub at: DateTime<Utc>,
    /// The job.
    pub job: Id,
    /// The product.
    pub product: Id,
    /// How much, as bought.
    pub quantity: Quantity,
    /// The ratio it is used at.
    pub ratio: Ratio,
}

/// What is taken off the shelf, and from where.
struct Take<'a> {
    product: &'a Product,
    quantity: Quantity,
    ratio: Ratio,
    container: Option<&'a ContainerId>,
    kind: MovementKind,
}

impl Ledger {
    fn posting(at: DateTime<Utc>, source: Source) -> Posting {
        Posting { at, source, job: None }
    }

    /// Containers that came in. Rows of products that the shop does not know are passed over, here
    /// and below.
    pub fn receive(&mut self, receipt: &Receipt) {
        let Some(product) = self.shared_product(&receipt.product) else { return };
        let received_on = self.shop().day_of(receipt.at);
        let sizes = receipt.container_size.map(|number| Amount { number, unit: product.unit });
        let size =
            sizes.and_then(|size| product.booked_quantity(size).ok()).unwrap_or(product.size());
        let lot = Arc::new(Lot {
            source: receipt.id.clone(),
            code: receipt.lot.clone(),
            best_before: receipt.best_before.or_else(|| sealed_life(&product, received_on)),
            unit_cost: receipt.unit_cost,
            supplier: receipt.supplier.clone(),
        });
        let posting = Self::posting(receipt.at, Source::Receipt(receipt.id.clone()));
        for number in 1..=receipt.containers {
            let id = ContainerId::of(&receipt.id, number);
            let place = self.add_container(&posting, &product, id, size, &lot);
            self.post(&posting, place, MovementKind::Received, size, Effect::None);
        }
    }

    /// A container was opened. Without a container it is the next sealed one, and the last one is
    /// empty.
    pub fn open(&mut self, opening: &Opening) {
        let Some(product) = self.shared_product(&opening.product) else { return };
        let posting = Self::posting(opening.at, Source::Opening(opening.id.clone()));
        let day = self.shop().day_of(opening.at);
        let named = opening.container.as_ref().and_then(|id| self.named(id, &product.id));
        // Only what is sealed can be opened. What is open stays as it is, and what was used up or
        // thrown away is not full again for somebody's saying its name: a count says what is there.
        let stays = |place: &usize| !self.can_be_opened(&product, *place, day);
        if let Some(place) = named.filter(stays) {
            let kind = MovementKind::Opened;
            self.post(&posting, place, kind, Quantity::ZERO, Effect::None);
            return;
        }
        let place = match &opening.container {
            Some(_) => named,
            None => self.next_to_open(&posting, &product, day),
        };
        let place = place.unwrap_or_else(|| self.find_container(&posting, &product, 1));
        self.mark_opened(&posting, place);
    }

    /// Whether a container that an opening names was sealed until then: as the books have it, or
    /// where they only took it to be open, as they took another to be used up, which by this was
    /// not. Not where that is longer ago than it lasts: so far off no books are.
    fn can_be_opened(&self, product: &Product, place: usize, day: NaiveDate) -> bool {
        let own = self.at(place);
        let guessed = self.was_guessed(place);
        let another = |other: usize| {
            let other_one = self.at(other);
            other != place && other_one.mix.is_none() && other_one.opened.is_some()
        };
        match own.state() {
            ContainerState::Sealed => true,
            ContainerState::Open if guessed && !own.is_past(product, day) => {
                self.latest_places(&product.id).any(another)
            }
            _ => false,
        }
    }

    /// The container that an opening which names none speaks of; the one before it is emptied.
    fn next_to_open(
        &mut self,
        posting: &Posting,
        product: &Product,
        day: NaiveDate,
    ) -> Option<usize> {
        let live = self.live_places(&product.id, day);
        let is_sealed = |p: &usize| self.at(*p).state() == ContainerState::Sealed;
        let sealed = live.iter().copied().find(is_sealed);
        let open = live.iter().copied().filter(|p| self.at(*p).mix.is_none());
        let mut open: Vec<_> =
            open.filter_map(|p| self.at(p).opened.map(|opened| (opened.at, p))).collect();
        open.sort_unstable();
        let last = open.pop().map(|(_, place)| place);
        // The books opened it by themselves, and hardly touched it or hold no other that could be
        // opened: this is the real opening, and the one before it is the last.
        let opens_last = last.filter(|place| {
            let container = self.at(*place);
            let hardly_touched = container.left.times(2) >= container.size;
            self.was_guessed(*place) && (hardly_touched || sealed.is_none())
        });
        let used_up = if opens_last.is_some() { open.pop().map(|(_, p)| p) } else { last };
        if let Some(place) = used_up {
            let left = self.at(place).left;
            self.post(posting, place, MovementKind::Counted, -left, Effect::None);
        }
        // One that the books opened and used up by themselves is likelier than one that never came.
        let guessed = || self.empty_places(&product.id).find(|p| self.was_guessed(*p));
        opens_last.or(sealed).or_else(guessed)
    }

    /// Whether nobody said that it was opened, and the books took it to be.
    pub(crate) fn was_guessed(&self, place: usize) -> bool {
        let container = self.at(place);
        container.mix.is_none() && container.opened.is_some_and(|opened| !opened.seen)
    }

    /// Marks a container that was sealed as opened now, and so full.
    fn mark_opened(&mut self, posting: &Posting, place: usize) {
        let container = self.at(place);
        let missing = container.size - container.left;
        if !missing.is_zero() {
            self.post(posting, place, MovementKind::Counted, missing, Effect::None);
        }
        let opens = Effect::Opens { seen: true };
        self.post(posting, place, MovementKind::Opened, Quantity::ZERO, opens);
    }

    /// Product poured for a job (or for none). More than the books hold is taken as it happened.
    pub fn pour(&mut self, pour: &Pour) {
        let Some(product) = self.shared_product(&pour.product) else { return };
        let Ok(written) = product.booked_quantity(pour.amount) else { return };
        let place = pour.container.as_ref().and_then(|id| self.named(id, &product.id));
        let own = place.and_then(|place| self.at(place).mix);
        let ratio = pour.ratio.or(own).unwrap_or(Ratio::NEAT);
        let expected = pour.method == Some(Method::Expected);
        let source = match (&pour.job, expected) {
            (Some(job), true) => Source::Expected(job.clone()),
            _ => Source::Pour(pour.id.clone()),
        };
        let posting = Posting { at: pour.at, source, job: pour.job.clone() };
        let take = Take {
            product: &product,
            quantity: ratio.product_in(written),
            ratio,
            container: pour.container.as_ref(),
            kind: MovementKind::Poured,
        };
        self.take(&posting, &take);
    }

    /// What a done job is taken to have used.
    pub fn pour_expected(&mut self, pour: &ExpectedPour) {
        let Some(product) = self.shared_product(&pour.product) else { return };
        let source = Source::Expected(pour.job.clone());
        let posting = Posting { at: pour.at, source, job: Some(pour.job.clone()) };
        let take = Take {
            product: &product,
            quantity: pour.quantity,
            ratio: pour.ratio,
            container: None,
            kind: MovementKind::Poured,
        };
        self.take(&posting, &take);
    }

    /// Something thrown away or sent back.
    pub fn discard(&mut self, discard: &Discard) {
        let Some(product) = self.shared_product(&discard.product) else { return };
        let posting = Self::posting(discard.at, Source::Discard(discard.id.clone()));
        let kind = match discard.reason {
            Some(DiscardReason::Returned) => MovementKind::Returned,
            _ => MovementKind::Discarded,
        };
        let Some(amount) = discard.amount else {
            let named = discard.container.as_ref().and_then(|id| self.named(id, &product.id));
            if let Some(place) = named.or_else(|| self.next_to_discard(&product, discard)) {
                let left = self.at(place).left;
                self.post(&posting, place, kind, -left, Effect::Discards);
            }
            return;
        };
        let Ok(written) = product.booked_quantity(amount) else { return };
        let place = discard.container.as_ref().and_then(|id| self.named(id, &product.id));
        let ratio = place.and_then(|place| self.at(place).mix).unwrap_or(Ratio::NEAT);
        let quantity = ratio.product_in(written);
        let container = discard.container.as_ref();
        self.take(&posting, &Take { product: &product, quantity, ratio, container, kind });
    }

    /// The container that a discard which names none speaks of: where it was sent back the sealed
    /// one furthest from its end, where it expired the one nearest its end, else the one in use.
    fn next_to_discard(&self, product: &Product, discard: &Discard) -> Option<usize> {
        let day = self.shop().day_of(discard.at);
        let live = self.live_places(&product.id, day);
        let end = |p: &usize| self.at(*p).use_by(product).unwrap_or(NaiveDate::MAX);
        let is_sealed = |p: &usize| self.at(*p).state() == ContainerState::Sealed;
        match discard.reason {
            Some(DiscardReason::Returned) => {
                let sealed = live.iter().copied().filter(is_sealed).max_by_key(end);
                sealed.or_else(|| live.last().copied())
            }
            Some(DiscardReason::Expired) => live.into_iter().min_by_key(end),
            _ => live.first().copied(),
        }
    }

    /// A container filled with concentrate and water.
    pub fn mix(&mut self, mix: &Mix) {
        let Some(product) = self.shared_product(&mix.product) else { return };
        let Ok(written) = product.booked_quantity(mix.amount) else { return };
        let quantity = mix.ratio.product_in(written);
        let posting = Self::posting(mix.at, Source::Mix(mix.id.clone()));
        let container = mix.container.as_ref();
        let take = Take {
            product: &product,
            quantity,
            ratio: Ratio::NEAT,
            container,
            kind: MovementKind::Mixed,
        };
        let before = self.movements.len();
        let Some(from) = self.take(&posting, &take) else { return };
        let unit_cost = self.cost_of_taken(before);
        let lot = Arc::new(Lot { unit_cost, ..self.at(from).lot.as_ref().clone() });
        let id = ContainerId::of_mix(&mix.id);
        let place = self.add_container(&posting, &product, id, quantity, &lot);
        let mixed_on = self.shop().day_of(mix.at);
        let last_day = |life: u32| mixed_on.checked_add_days(Days::new(life.into()));
        // Water does not make it last longer than what it was made of.
        let ends = [product.mix_days.and_then(last_day), self.at(from).use_by(&product)];
        self.set_mix(place, mix.ratio, ends.into_iter().flatten().min());
        self.post(&posting, place, MovementKind::Mixed, quantity, Effect::None);
    }

    /// What the movements from `first` on took, at cost. What was found on the way cost nothing
    /// that is known.
    fn cost_of_taken(&self, first: usize) -> Money {
        let taken = self.movements[first..].iter();
        let lost = |m: &crate::ledger::Movement| {
            self.container(&m.container).map_or(Money::ZERO, |own| own.value_of(-m.change))
        };
        let all: i64 = taken.map(|m| lost(m).minor()).sum();
        Money::from_minor(all.max(0))
    }

    /// What somebody saw or weighed.
    pub fn count(&mut self, count: &Count) {
        let Some(product) = self.shared_product(&count.product) else { return };
        let posting = Self::posting(count.at, Source::Count(count.id.clone()));
        let day = self.shop().day_of(count.at);
        if let Some(id) = &count.container {
            let place = self.named(id, &product.id);
            let place = place.unwrap_or_else(|| self.find_container(&posting, &product, 1));
            let seen = self.counted_in_container(&product, count, place);
            let is_sealed = count.sealed.is_some_and(|sealed| sealed > 0);
            match seen {
                Some(seen) => self.count_container(&posting, place, seen),
                None if is_sealed => self.count_as_sealed(&posting, place),
                None => {}
            }
            return;
        }
        let live = u32::try_from(self.live_places(&product.id, day).len()).unwrap_or(1);
        let weighed = if count.sealed.is_some() { 1 } else { live.max(1) };
        let seen = counted(&product, count, weighed);
        let seen = seen.map(|quantity| Seen::new(&product, quantity, count.sd_share()));
        match (count.sealed, seen) {
            (Some(sealed), seen) => self.count_sealed(&posting, &product, sealed, seen),
            (None, Some(seen)) => self.count_whole(&posting, &product, seen),
            (None, None) => {}
        }
    }

    fn counted_in_container(
        &self,
        product: &Product,
        count: &Count,
        place: usize,
    ) -> Option<Quantity> {
        let seen = counted(product, count, 1)?;
        Some(self.at(place).mix.map_or(seen, |ratio| ratio.product_in(seen)))
    }

    fn count_container(&mut self, posting: &Posting, place: usize, seen: Quantity) {
        if seen > Quantity::ZERO {
            self.restore(posting, place);
        }
        let container = self.at(place);
        let effect =
            if container.opened.is_none() && container.mix.is_none() && seen < container.size {
                // Who held it in their hands saw that it is open.
                Effect::Opens { seen: true }
            } else {
                Effect::None
            };
        let change = seen - container.left;
        self.post(posting, place, MovementKind::Counted, change, effect);
    }

    fn count_as_sealed(&mut self, posting: &Posting, place: usize) {
        if self.at(place).mix.is_some() {
            return;
        }
        self.restore(posting, place);
        let missing = self.at(place).size - self.at(place).left;
        self.post(posting, place, MovementKind::Counted, missing, Effect::Reseals);
    }

    /// What somebody holds in their hands was not thrown away.
    fn restore(&mut self, posting: &Posting, place: usize) {
        if self.at(place).discarded {
            let restores = Effect::Restores;
            self.post(posting, place, MovementKind::Counted, Quantity::ZERO, restores);
        }
    }

    // ---- taking from the shelf

    /// Takes from the container named, else FEFO; what the books lack is found stock. Gives the
    /// place of the last container that something came from, or would have come from.
    fn take(&mut self, posting: &Posting, take: &Take<'_>) -> Option<usize> {
        let named = take.container.and_then(|id| self.named(id, &take.product.id));
        let places = match named {
            Some(place) => vec![place],
            None => self.places_to_take(posting, take),
        };
        let mut missing = take.quantity.or_zero();
        let mut last = places.first().copied();
        for place in places {
            let taken = missing.min(self.at(place).left.or_zero());
            if taken > Quantity::ZERO || named.is_some() {
                self.take_from(posting, place, take.kind, taken, named.is_some());
                last = Some(place);
            }
            missing -= taken;
            if missing <= Quantity::ZERO {
                break;
            }
        }
        if missing <= Quantity::ZERO {
            return last;
        }
        // That something was there after all is not said by what jobs are expected to use.
        let gone = || {
            let opened =
                |place: &usize| self.at(*place).mix.is_none() && self.at(*place).opened.is_some();
            let is_expected = matches!(posting.source, Source::Expected(_));
            self.latest_places(&take.product.id).find(opened).filter(|_| is_expected)
        };
        let place = last
            .or_else(|| self.empty_places(&take.product.id).next())
            .or_else(gone)
            .unwrap_or_else(|| self.find_container(posting, take.product, 1));
        self.post(posting, place, MovementKind::Counted, missing, Effect::None);
        self.take_from(posting, place, take.kind, missing, named.is_some());
        Some(place)
    }

    /// The next containers that serve, FEFO, as far as they are needed.
    fn places_to_take(&self, posting: &Posting, take: &Take<'_>) -> Vec<usize> {
        let day = self.shop().day_of(posting.at);
        let serves = |place: &usize| {
            let container = self.at(*place);
            let mixing = take.kind == MovementKind::Mixed;
            if mixing { container.mix.is_none() } else { container.serves(take.ratio) }
        };
        let mut places = Vec::new();
        let mut held = Quantity::ZERO;
        for place in self.in_turn(&take.product.id, day).filter(serves) {
            places.push(place);
            held += self.at(place).left;
            if held >= take.quantity {
                break;
            }
        }
        places
    }

    fn take_from(
        &mut self,
        posting: &Posting,
        place: usize,
        kind: MovementKind,
        quantity: Quantity,
        seen: bool,
    ) {
        let container = self.at(place);
        if container.opened.is_none() && container.mix.is_none() && !quantity.is_zero() {
            let opens = Effect::Opens { seen };
            self.post(posting, place, MovementKind::Opened, Quantity::ZERO, opens);
        }
        self.post(posting, place, kind, -quantity, Effect::None);
    }

    /// A container that no receipt brought, found full of nothing yet.
    pub(crate) fn find_container(
        &mut self,
        posting: &Posting,
        product: &Product,
        number: u32,
    ) -> usize {
        let found_on = self.shop().day_of(posting.at);
        let source = posting.source.id();
        let last = self.latest_places(&product.id).next();
        let unit_cost = last.map_or(Money::ZERO, |place| self.at(place).lot.unit_cost);
        let lot = Arc::new(Lot {
            source: source.clone(),
            code: None,
            best_before: sealed_life(product, found_on),
            unit_cost,
            supplier: None,
        });
        let id = ContainerId::of(source, number);
        self.add_container(posting, product, id, product.size(), &lot)
    }
}

/// What a count saw: the amount written, or the weight less the weight of `containers`.
fn counted(product: &Product, count: &Count, containers: u32) -> Option<Quantity> {
    let seen = match (count.amount, count.gross_g) {
        (Some(amount), _) => product.booked_quantity(amount).ok(),
        (None, Some(gross)) => product.quantity_of_gross(gross, containers).ok(),
        (None, None) => None,
    };
    seen.map(Quantity::or_zero)
}

/// The last day of a container that came sealed on a day and bears no date.
fn sealed_life(product: &Product, came_on: NaiveDate) -> Option<NaiveDate> {
    product.shelf_days.and_then(|days| came_on.checked_add_days(Days::new(days.into())))
}
