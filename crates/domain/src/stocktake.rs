//! Counts of a whole product: how what was seen is laid over the containers in the books.

use crate::catalog::Product;
use crate::container::ContainerState;
use crate::ledger::{Effect, Ledger, MovementKind, Posting};
use crate::quantity::Quantity;

/// Containers that one count can find; an amount above that stands in the last of them.
const MOST_FOUND: u32 = 1000;

impl Ledger {
    /// All that is there was seen. Sealed containers are taken to be full; the open ones hold the
    /// rest.
    pub(crate) fn count_whole(&mut self, posting: &Posting, product: &Product, seen: Quantity) {
        let day = self.shop().day_of(posting.at);
        let live = self.live_places(&product.id, day);
        let sealed: Vec<usize> = live
            .iter()
            .copied()
            .filter(|p| self.at(*p).state() == ContainerState::Sealed)
            .collect();
        let in_sealed: Quantity = sealed.iter().map(|p| self.at(*p).left).sum();
        let mut open: Vec<usize> = live.into_iter().filter(|p| !sealed.contains(p)).collect();
        let mut in_open = seen - in_sealed;
        for place in sealed {
            if in_open >= Quantity::ZERO {
                break;
            }
            // Less than the sealed ones hold: the next of them must have been opened.
            in_open += self.at(place).left;
            open.push(place);
        }
        self.lay_over_open(posting, product, &open, in_open);
    }

    /// So many sealed containers were seen, and what the open ones hold (or not looked at).
    pub(crate) fn count_sealed(
        &mut self,
        posting: &Posting,
        product: &Product,
        sealed: u32,
        in_open: Option<Quantity>,
    ) {
        let day = self.shop().day_of(posting.at);
        let live = self.live_places(&product.id, day);
        let in_books = |ledger: &Self| -> Vec<usize> {
            let is_sealed = |p: &usize| ledger.at(*p).state() == ContainerState::Sealed;
            live.iter().copied().filter(is_sealed).collect()
        };
        let wanted = usize::try_from(sealed).unwrap_or(usize::MAX);
        let known = in_books(self);
        let opened = known.len().saturating_sub(wanted);
        for &place in &known[..opened] {
            let opens = Effect::Opens { seen: false };
            self.post(posting, place, MovementKind::Counted, Quantity::ZERO, opens);
        }
        for _ in (known.len()..wanted).take(MOST_FOUND as usize) {
            self.seal_one_more(posting, product, &live);
        }
        let still_sealed = |p: &usize| self.at(*p).state() == ContainerState::Sealed;
        let open: Vec<usize> = live.iter().copied().filter(|p| !still_sealed(p)).collect();
        let last_opened: Quantity =
            known[..opened].last().map_or(Quantity::ZERO, |p| self.at(*p).left);
        match in_open {
            Some(seen) => self.lay_over_open(posting, product, &open, seen),
            // Only the sealed ones were counted: of those opened since, the last is in use.
            None if opened > 0 => self.lay_over_open(posting, product, &open, last_opened),
            None => self.note_seen(posting, product, &live),
        }
    }

    /// One more sealed container than the books hold: one that the books opened by themselves, else
    /// one that they used up by themselves, else one that no receipt brought.
    fn seal_one_more(&mut self, posting: &Posting, product: &Product, live: &[usize]) {
        let guessed = |p: &usize| {
            let container = self.at(*p);
            container.mix.is_none() && container.opened.is_some_and(|o| !o.seen)
        };
        let place = live
            .iter()
            .rev()
            .copied()
            .find(guessed)
            .or_else(|| self.empty_places(&product.id).find(guessed))
            .unwrap_or_else(|| self.find_container(posting, product, 1));
        let missing = self.at(place).size - self.at(place).left;
        self.post(posting, place, MovementKind::Counted, missing, Effect::Reseals);
    }

    /// The containers in `open` (FEFO) hold `seen` together: what is missing is taken from the
    /// first, what is too much goes to the first that has room, then to used-up ones, then to ones
    /// that no receipt brought.
    fn lay_over_open(
        &mut self,
        posting: &Posting,
        product: &Product,
        open: &[usize],
        seen: Quantity,
    ) {
        let in_books: Quantity = open.iter().map(|p| self.at(*p).left).sum();
        let mut gap = seen.or_zero() - in_books;
        if gap.is_zero() {
            self.note_seen(posting, product, open);
            return;
        }
        for &place in open {
            let container = self.at(place);
            let change = if gap < Quantity::ZERO {
                -container.left.min(-gap)
            } else if container.mix.is_none() {
                (container.size - container.left).or_zero().min(gap)
            } else {
                Quantity::ZERO
            };
            self.count_in(posting, place, change);
            gap -= change;
        }
        let revivable =
            if gap > Quantity::ZERO { self.empty_places(&product.id).collect() } else { vec![] };
        let mut one_is_open = open.iter().any(|p| self.at(*p).is_live());
        for place in revivable {
            if open.contains(&place) || gap <= Quantity::ZERO {
                continue;
            }
            let change = self.at(place).size.min(gap);
            // One is in use; of the others that were seen, a full one was not opened.
            let is_full = change == self.at(place).size && !change.is_zero();
            if is_full && (one_is_open || gap > change) && self.at(place).opened.is_some() {
                self.post(posting, place, MovementKind::Counted, change, Effect::Reseals);
            } else {
                self.count_in(posting, place, change);
                one_is_open = true;
            }
            gap -= change;
        }
        for found in 1.. {
            if gap <= Quantity::ZERO {
                break;
            }
            let place = self.find_container(posting, product, found);
            let all = found >= MOST_FOUND || product.size().is_zero();
            let change = if all { gap } else { product.size().min(gap) };
            self.count_in(posting, place, change);
            gap -= change;
        }
    }

    fn count_in(&mut self, posting: &Posting, place: usize, change: Quantity) {
        if change.is_zero() {
            return;
        }
        let container = self.at(place);
        let partly = container.left + change < container.size;
        let effect = if partly && container.opened.is_none() && container.mix.is_none() {
            Effect::Opens { seen: false }
        } else {
            Effect::None
        };
        self.post(posting, place, MovementKind::Counted, change, effect);
    }

    /// The books were right: the count stands in the ledger all the same.
    fn note_seen(&mut self, posting: &Posting, product: &Product, places: &[usize]) {
        let known = places.first().copied();
        let place = known.or_else(|| self.latest_places(&product.id).next());
        if let Some(place) = place {
            let kind = MovementKind::Counted;
            self.post(posting, place, kind, Quantity::ZERO, Effect::None);
        }
    }
}
