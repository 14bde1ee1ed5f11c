//! A container as a page shows it: drawn as it stands, its time as a line, and both in words.

use capful_domain::{Container, ContainerState, MovementKind, Product, Quantity};
use chrono::NaiveDate;

use super::books::Books;
use crate::pages::drawing::{self, Near};
use crate::pages::frame::day_name;
use crate::pages::say::words;

/// A container, or several sealed ones that are alike.
pub(super) struct Bottle {
    pub drawing: String,
    /// Its life as a line; empty where it has no end.
    pub life: String,
    /// Open, sealed, a mix.
    pub state: String,
    pub lot: String,
    pub left: String,
    pub until: String,
    /// How near its end it is, as the stylesheet calls it.
    pub near: &'static str,
    /// The names of those that are alike; one, of an open one.
    pub ids: Vec<String>,
}

/// How a container stands.
pub(super) fn state(container: &Container) -> String {
    let t = words();
    match (container.state(), container.mix) {
        (ContainerState::Open, Some(ratio)) => t.say("state-mix").with("ratio", ratio).to_string(),
        (ContainerState::Open, None) => t.say("state-open").to_string(),
        (ContainerState::Sealed, _) => t.say("state-sealed").to_string(),
        (ContainerState::Empty, _) => t.say("state-empty").to_string(),
        (ContainerState::Discarded, _) => t.say("state-discarded").to_string(),
    }
}

impl Books {
    /// What is left in a container: of a mix, what the bottle holds with its water.
    pub(super) fn left_in(&self, container: &Container, product: &Product) -> String {
        let ratio = container.mix;
        let quantity = ratio.map_or(container.left, |ratio| ratio.mix_of(container.left));
        self.measures.quantity(quantity, product)
    }

    /// Until when a container is good.
    pub(super) fn until(&self, container: &Container, product: &Product) -> String {
        let (t, today) = (words(), self.day());
        let Some(use_by) = container.use_by(product) else {
            return t.say("until-none").to_string();
        };
        let days = (use_by - today).num_days();
        let name = match days {
            ..0 => "until-past",
            0..=60 => "until-days",
            _ => "until-far",
        };
        let is_near = (-180..=60).contains(&days);
        let day = if is_near { day_name(use_by, today) } else { long_day(use_by) };
        t.say(name).with("day", day).with("days", days.abs()).to_string()
    }

    /// A container's time as a line; empty where it has no end.
    pub(super) fn life(&self, container: &Container, product: &Product) -> String {
        let Some(use_by) = container.use_by(product) else { return String::new() };
        let came = self.shop().day_of(container.came_at);
        let began = container.opened.map_or(came, |opened| opened.on);
        let name = if container.opened.is_some() { "life-open" } else { "life-sealed" };
        let label = words()
            .say(name)
            .with("began", long_day(began))
            .with("until", self.until(container, product))
            .to_string();
        drawing::life(began, use_by, self.day(), &label)
    }

    /// A container as it stands.
    pub(super) fn drawn(&self, container: &Container, product: &Product) -> String {
        let label = words()
            .say("drawn")
            .with("state", state(container))
            .with("left", self.left_in(container, product))
            .to_string();
        drawing::container(container, product, self.day(), &label)
    }

    /// Containers to be shown: sealed ones that are alike stand together.
    pub(super) fn bottles(&self, live: &[&Container], product: &Product) -> Vec<Bottle> {
        let mut groups: Vec<Vec<&Container>> = Vec::new();
        for &container in live {
            let alike = |first: &&Container| {
                let both = [*first, container];
                both.iter().all(|own| own.state() == ContainerState::Sealed)
                    && first.lot == container.lot
                    && first.left == container.left
                    && first.use_by(product) == container.use_by(product)
            };
            match groups.iter_mut().find(|group| group.first().is_some_and(alike)) {
                Some(group) => group.push(container),
                None => groups.push(vec![container]),
            }
        }
        groups.iter().filter_map(|group| self.bottle(group, product)).collect()
    }

    fn bottle(&self, alike: &[&Container], product: &Product) -> Option<Bottle> {
        let first = *alike.first()?;
        Some(Bottle {
            drawing: self.drawn(first, product),
            life: self.life(first, product),
            state: state(first),
            lot: first.lot.name().to_owned(),
            left: self.left_in(first, product),
            until: self.until(first, product),
            near: Near::of(first, product, self.day()).class(),
            ids: alike.iter().map(|own| own.id.to_string()).collect(),
        })
    }

    /// The last movements that are wanted, the latest first.
    pub(super) fn went(
        &self,
        product: &Product,
        most: usize,
        is_wanted: impl Fn(&capful_domain::Movement) -> bool,
    ) -> Vec<Went> {
        let own = |m: &&capful_domain::Movement| m.product == product.id && is_wanted(m);
        let mut all: Vec<_> = self.ledger.standing().filter(own).collect();
        all.sort_by_key(|movement| movement.at);
        all.iter().rev().take(most).map(|movement| self.one_that_went(movement, product)).collect()
    }

    fn one_that_went(&self, movement: &capful_domain::Movement, product: &Product) -> Went {
        let amount = self.measures.quantity(movement.change.abs(), product);
        let amount = match movement.change {
            change if change < Quantity::ZERO => format!("−{amount}"),
            change if change.is_zero() && movement.kind == MovementKind::Counted => {
                words().say("went-same").to_string()
            }
            change if change.is_zero() => String::new(),
            _ => format!("+{amount}"),
        };
        let job = movement.job.as_ref();
        Went {
            at: movement.at.with_timezone(&self.shop().timezone).format("%-d %b %H:%M").to_string(),
            what: words().say(kind(movement.kind)).to_string(),
            amount,
            container: movement.container.to_string(),
            job: job.map(|job| (job.to_string(), self.job_name(job))),
        }
    }
}

/// A movement, in words.
pub(super) struct Went {
    pub at: String,
    pub what: String,
    /// With its sign; empty where nothing moved.
    pub amount: String,
    pub container: String,
    /// The job's id and its name.
    pub job: Option<(String, String)>,
}

const fn kind(kind: MovementKind) -> &'static str {
    match kind {
        MovementKind::Received => "went-received",
        MovementKind::Opened => "went-opened",
        MovementKind::Mixed => "went-mixed",
        MovementKind::Poured => "went-poured",
        MovementKind::Counted => "went-counted",
        MovementKind::Discarded => "went-discarded",
        MovementKind::Returned => "went-returned",
        MovementKind::Reversed => "went-reversed",
    }
}

/// A day that may be years away.
pub(super) fn long_day(day: NaiveDate) -> String {
    day.format("%-d %b %Y").to_string()
}
