//! Counts of a whole product: how what was seen is laid over the containers in the books.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::catalog::Product;
use crate::check_count::BRIM;
use crate::container::ContainerState;
use crate::ledger::{Effect, Ledger, MovementKind, Posting};
use crate::quantity::Quantity;

/// Containers that one count can find; an amount above that stands in the last of them.
const MOST_FOUND: u32 = 1000;

/// How much a count saw.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    quantity: Quantity,
    /// How far off that may be: two standard deviations, and not more than a container may be
    /// filled above its size.
    may_be_off: Quantity,
}

impl Seen {
    pub fn new(product: &Product, quantity: Quantity, sd_share: Decimal) -> Self {
        let off = Decimal::TWO * sd_share * Decimal::from(quantity.ledger_units());
        let most = product.size().ledger_units() / BRIM;
        let may_be_off = Quantity::from_ledger_units(off.to_i64().unwrap_or(most).min(most));
        Self { quantity, may_be_off }
    }
}

impl Ledger {
    /// All that is there was seen. The open ones hold what the sealed ones do not; sealed ones stay
    /// sealed where the count is off from what they hold by no more than such a count may be.
    pub(crate) fn count_whole(&mut self, posting: &Posting, product: &Product, seen: Seen) {
        let day = self.shop().day_of(posting.at);
        let live = self.live_places(&product.id, day);
        let (sealed, mut open): (Vec<usize>, Vec<usize>) =
            live.into_iter().partition(|p| self.at(*p).state() == ContainerState::Sealed);
        let full: Quantity = sealed.iter().map(|p| self.at(*p).size).sum();
        let Seen { quantity, may_be_off } = seen;
        // Beside what they hold when full: a little less each time is a bottle in use.
        let mut beside = quantity - full;
        let mut sealed = sealed.into_iter().peekable();
        while let Some(place) = sealed.next_if(|_| beside < -may_be_off) {
            // Less than the sealed ones hold: the next of them must have been opened.
            beside += self.at(place).size;
            open.push(place);
        }
        let is_off = beside < Quantity::ZERO || open.is_empty() && beside <= may_be_off;
        let in_sealed: Quantity = sealed.clone().map(|p| self.at(p).left).sum();
        let in_open = quantity - in_sealed;
        match sealed.next().filter(|_| is_off) {
            Some(place) => {
                let change = in_open.max(-self.at(place).left);
                self.post(posting, place, MovementKind::Counted, change, Effect::None);
                if !open.is_empty() {
                    let nothing = Seen { quantity: Quantity::ZERO, ..seen };
                    self.lay_over_open(posting, product, &open, nothing);
                }
            }
            None => {
                let seen = Seen { quantity: in_open, ..seen };
                self.lay_over_open(posting, product, &open, seen);
            }
        }
    }

    /// So many sealed containers were seen, and what the open ones hold (or not looked at).
    pub(crate) fn count_sealed(
        &mut self,
        posting: &Posting,
        product: &Product,
        sealed: u32,
        in_open: Option<Seen>,
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
        let last_opened = known[..opened].last().map(|place| {
            // Only the sealed ones were counted: of those opened since, the last is in use.
            Seen { quantity: self.at(*place).left, may_be_off: Quantity::ZERO }
        });
        match in_open.or(last_opened) {
            Some(seen) => self.lay_over_open(posting, product, &open, seen),
            None => self.note_seen(posting, product, &live),
        }
    }

    /// One more sealed container than the books hold: of those that the books opened by themselves
    /// the fullest, else one that they used up by themselves, else one that no receipt brought.
    fn seal_one_more(&mut self, posting: &Posting, product: &Product, live: &[usize]) {
        let guessed = |p: &usize| self.was_guessed(*p);
        let opened = live.iter().copied().filter(guessed);
        let place = opened
            .max_by_key(|p| self.at(*p).left)
            .or_else(|| self.empty_places(&product.id).find(guessed))
            .unwrap_or_else(|| self.find_container(posting, product, 1));
        let missing = self.at(place).size - self.at(place).left;
        self.post(posting, place, MovementKind::Counted, missing, Effect::Reseals);
    }

    /// The containers in `open` (FEFO) hold `seen` together: what is missing is taken from the
    /// first, what is too much goes to the first that has room, then, where the count may be off by
    /// so much, over the brim of the first, else to used-up ones, then to ones that no receipt
    /// brought.
    fn lay_over_open(&mut self, posting: &Posting, product: &Product, open: &[usize], seen: Seen) {
        let in_books: Quantity = open.iter().map(|p| self.at(*p).left).sum();
        let mut gap = seen.quantity.or_zero() - in_books;
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
        if gap > Quantity::ZERO && gap <= seen.may_be_off {
            let first = open.iter().copied().find(|p| self.at(*p).mix.is_none());
            if let Some(place) = first {
                self.count_in(posting, place, gap);
                return;
            }
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
