//! Taking the books up where they were left, from containers that were kept elsewhere.

use std::collections::HashSet;

use crate::catalog::Product;
use crate::container::Container;
use crate::id::{ContainerId, Id};
use crate::ledger::{Ledger, Movement, Standing};
use crate::quantity::Quantity;
use crate::shop::Shop;

/// A container as the books hold it, with all that is needed to go on from there.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// The container.
    pub container: Container,
    /// What came into it and was not reversed; nothing: it was never there.
    pub gained: Quantity,
    /// The name it should bear, where another row's container bore that one already.
    pub meant: Option<ContainerId>,
}

/// What the books held when they were left.
#[derive(Debug, Clone, Default)]
pub struct Left {
    /// The containers of the products that will be posted to, in the order they came: the live
    /// ones, and all of them where a count, an opening or a shortage may look for a used-up one.
    pub containers: Vec<Kept>,
    /// Their movements, each container's in the order they were posted. Needed for nothing but
    /// [`Ledger::reverse`], and then those of each container that the reversed row touched.
    pub movements: Vec<Movement>,
    /// Names that other containers bear.
    pub taken: HashSet<ContainerId>,
}

impl Ledger {
    /// The books as they were left. Containers of products not listed are passed over.
    ///
    /// [`Ledger::differences`] and [`Ledger::found_stock`] speak of what was handed over only.
    #[must_use]
    pub fn resume<'a>(
        shop: &Shop,
        products: impl IntoIterator<Item = &'a Product>,
        left: Left,
    ) -> Self {
        let mut ledger = Self::new(shop, products);
        ledger.taken = left.taken;
        for kept in left.containers {
            ledger.put_back(kept);
        }
        ledger.reversed = vec![false; left.movements.len()];
        for undone in left.movements.iter().filter_map(|movement| movement.reverses) {
            if let Some(reversed) = ledger.reversed.get_mut(undone) {
                *reversed = true;
            }
        }
        ledger.movements = left.movements;
        ledger
    }

    /// A container as it must be kept, to go on from it later.
    #[must_use]
    pub fn keep(&self, id: &ContainerId) -> Option<Kept> {
        let place = *self.place.get(id)?;
        let meant = self.also_named.iter().find(|(_, other)| **other == place);
        Some(Kept {
            container: self.containers[place].clone(),
            gained: self.standing[place].gained,
            meant: meant.map(|((name, _), _)| name.clone()),
        })
    }

    /// Whether a row that names this container and this product names one that is there.
    #[must_use]
    pub fn knows(&self, id: &ContainerId, product: &Id) -> bool {
        self.named(id, product).is_some()
    }

    fn put_back(&mut self, kept: Kept) {
        let Some(&shelf) = self.shelf_of.get(&kept.container.product) else { return };
        let place = self.containers.len();
        if let Some(meant) = kept.meant {
            self.also_named.entry((meant, kept.container.product.clone())).or_insert(place);
        }
        self.place.insert(kept.container.id.clone(), place);
        self.containers.push(kept.container);
        self.shelves[shelf].places.push(place);
        self.standing.push(Standing { shelf, turn: None, gained: kept.gained });
        self.note_turn(place);
    }
}
