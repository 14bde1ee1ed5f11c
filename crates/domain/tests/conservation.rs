//! Whatever a shop writes down, in whatever order: nothing is created and nothing is lost.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use std::collections::{BTreeSet, HashMap};

use capful_domain::{
    Container, ContainerId, ContainerState, Id, Ledger, MovementKind, Opened, Quantity, fefo,
};
use proptest::prelude::*;
use support::rows::{Act, Player, act};

/// Every sum that must hold in any ledger.
fn check(player: &Player) -> Result<(), TestCaseError> {
    let ledger = &player.ledger;
    prop_assert_eq!(ledger.differences(), []);
    let mut left: HashMap<&ContainerId, Quantity> = HashMap::new();
    let mut names = BTreeSet::new();
    for container in ledger.containers() {
        prop_assert!(names.insert(&container.id), "{} stands twice", container.id);
    }
    for movement in ledger.movements() {
        let held = left.entry(&movement.container).or_default();
        *held += movement.change;
        prop_assert!(*held >= Quantity::ZERO, "{:?} leaves {:?}", movement, held);
        prop_assert!(names.contains(&movement.container));
    }
    for container in ledger.containers() {
        prop_assert_eq!(left.get(&container.id).copied().unwrap_or_default(), container.left);
    }
    kinds_move_what_they_say(ledger)?;
    each_product_adds_up(ledger)?;
    the_live_are_in_turn(player)
}

/// Only receipts and counts bring anything; pours and discards only take; mixing moves.
fn kinds_move_what_they_say(ledger: &Ledger) -> Result<(), TestCaseError> {
    for movement in ledger.movements() {
        let change = movement.change;
        match movement.kind {
            MovementKind::Received => prop_assert!(change >= Quantity::ZERO),
            MovementKind::Opened => prop_assert!(change.is_zero()),
            MovementKind::Poured | MovementKind::Discarded | MovementKind::Returned => {
                prop_assert!(change <= Quantity::ZERO);
            }
            MovementKind::Mixed | MovementKind::Counted => {}
            MovementKind::Reversed => {
                let old = &ledger.movements()[movement.reverses.unwrap()];
                prop_assert_eq!(change, -old.change);
                prop_assert_eq!(&movement.container, &old.container);
            }
        }
    }
    Ok(())
}

/// For each product: received + counted = left + poured + discarded, and mixing adds nothing.
fn each_product_adds_up(ledger: &Ledger) -> Result<(), TestCaseError> {
    let mut moved: HashMap<(&Id, MovementKind), Quantity> = HashMap::new();
    for movement in ledger.movements() {
        let kind = match movement.reverses {
            Some(old) => ledger.movements()[old].kind,
            None => movement.kind,
        };
        *moved.entry((&movement.product, kind)).or_default() += movement.change;
    }
    let products: BTreeSet<&Id> = ledger.movements().iter().map(|m| &m.product).collect();
    for product in products {
        let of = |kind| moved.get(&(product, kind)).copied().unwrap_or_default();
        let brought = of(MovementKind::Received) + of(MovementKind::Counted);
        let taken =
            of(MovementKind::Poured) + of(MovementKind::Discarded) + of(MovementKind::Returned);
        prop_assert_eq!(of(MovementKind::Mixed), Quantity::ZERO);
        prop_assert_eq!(ledger.left_of(product), brought + taken);
    }
    Ok(())
}

/// The live containers are those with something in them, in the order of `fefo`.
fn the_live_are_in_turn(player: &Player) -> Result<(), TestCaseError> {
    let ledger = &player.ledger;
    let shop = support::halifax();
    for name in ["soap", "polish", "towel"] {
        let product = ledger.product(&support::id(name)).unwrap();
        for ahead in [0, 3, 10, 45] {
            let day = shop.day_of(player.now()) + chrono::Days::new(ahead);
            let all = ledger.containers().iter();
            let mut live: Vec<&Container> =
                all.filter(|c| c.product == product.id && c.is_live()).collect();
            live.sort_by(|a, b| fefo(a, b, product, day));
            prop_assert_eq!(ledger.live_containers(&product.id, day), live);
        }
    }
    Ok(())
}

/// What can be said of a container.
type State = (Quantity, ContainerState, Option<Opened>, bool);

/// Every container's state; those that a reversed row brought are as if they were not there.
fn state(ledger: &Ledger) -> HashMap<ContainerId, State> {
    let all = ledger.containers().iter();
    all.map(|c| (c.id.clone(), (c.left, c.state(), c.opened, c.discarded))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn nothing_is_created_and_nothing_lost(acts in prop::collection::vec(act(true), 1..40)) {
        let mut player = Player::new();
        for act in &acts {
            player.play(act);
            check(&player)?;
        }
    }

    /// A row posted and reversed leaves every container as it was.
    #[test]
    fn a_row_reversed_at_once_was_never_there(
        acts in prop::collection::vec(act(true), 0..25),
        last in act(false),
    ) {
        let mut player = Player::new();
        for act in &acts {
            player.play(act);
        }
        let before = state(&player.ledger);
        let found = player.ledger.found_stock();
        let posted = player.ledger.movements().len();
        player.play(&last);
        let source = player.sources.last().unwrap().clone();
        let now = player.now();
        let moved = player.ledger.movements().len() > posted;
        prop_assert_eq!(player.ledger.reverse(&source, now).is_ok(), moved);
        check(&player)?;
        let mut after = state(&player.ledger);
        let new = after.keys().filter(|id| !before.contains_key(id)).cloned().collect::<Vec<_>>();
        for id in new {
            prop_assert_eq!(after.remove(&id).unwrap().0, Quantity::ZERO);
        }
        prop_assert_eq!(after, before);
        prop_assert_eq!(player.ledger.found_stock(), found);
        prop_assert!(player.ledger.reverse(&source, now).is_err(), "it is reversed once");
    }

    /// A row reversed later keeps every sum, or is refused and changes nothing.
    #[test]
    fn a_refused_reversal_changes_nothing(
        acts in prop::collection::vec(act(false), 1..30),
        row in 0..30_usize,
    ) {
        let mut player = Player::new();
        for act in &acts {
            player.play(act);
        }
        let before = state(&player.ledger);
        let posted = player.ledger.movements().to_vec();
        if !player.play(&Act::Reverse { row }) {
            prop_assert_eq!(state(&player.ledger), before);
            prop_assert_eq!(player.ledger.movements(), posted.as_slice());
        }
        check(&player)?;
    }

    /// Reversing every row, latest first, empties the shelf.
    #[test]
    fn all_rows_reversed_leave_an_empty_shelf(acts in prop::collection::vec(act(false), 1..25)) {
        let mut player = Player::new();
        let mut moved = Vec::new();
        for act in &acts {
            let posted = player.ledger.movements().len();
            player.play(act);
            moved.push(player.ledger.movements().len() > posted);
        }
        let now = player.now();
        for (source, moved) in player.sources.clone().iter().zip(moved).rev() {
            prop_assert_eq!(player.ledger.reverse(source, now).is_ok(), moved);
            check(&player)?;
        }
        for container in player.ledger.containers() {
            prop_assert_eq!(container.left, Quantity::ZERO);
            prop_assert_eq!((container.opened, container.discarded), (None, false));
        }
        prop_assert!(player.ledger.found_stock().is_empty());
    }
}
