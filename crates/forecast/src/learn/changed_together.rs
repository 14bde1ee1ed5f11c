//! Changes of a shop's products: what changes one, such as new hands, often changes others on the
//! same day and much alike, so that little seen of each of many is much.
//!
//! Beside "each product by itself, or not at all" stands for each day, share of the products and
//! shift that so many changed on that day by about that. Each has its prior, and as likelihood the
//! product over the shop's products of `(1 − share)·L(alone) + share·L(changed)`. What is believed
//! of one product is the mixture of all these (McLachlan & Peel 2000, *Finite Mixture Models*,
//! §1.4, from memory).

use rayon::prelude::*;

use crate::learn::lasting_change::{Evidence, TRIED, WEEKS_AGO};

/// Prior sd of what a change of one product alone does, on the scale of the logarithm.
const CHANGE_SD: f64 = 0.5;
/// Chance, before anything is seen, that a product's use changed on one of the days tried.
const CHANCE_BEFORE: f64 = 0.08;
/// Chance, before anything is seen, that many products changed together on one of the days tried.
const TOGETHER_BEFORE: f64 = 0.3;
/// How many of them then may have, as a share: each as likely.
const SHARES: [f64; 4] = [0.1, 0.2, 0.35, 0.6];
/// What it may do to them on the scale of the logarithm: each as likely.
const SHIFTS: [f64; 8] = [-0.8, -0.55, -0.35, -0.2, 0.2, 0.35, 0.55, 0.8];
/// How much what it does to one product differs from what it does to others.
const APART_SD: f64 = 0.15;
/// A change of a product less likely than this is not looked into.
const LEAST_CHANCE: f64 = 0.15;

/// A change that may have been.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Change {
    /// Observations of this age in days, and younger, speak of the product as it is used since.
    pub age_days: f64,
    /// How likely it is.
    pub chance: f64,
    /// What is believed of it, before what is seen of the product: mean and sd on the scale of the
    /// logarithm.
    pub prior: (f64, f64),
}

/// Likelihoods of what is seen of a product that shares no change, beside that of none.
struct Alone {
    /// Changed by itself on each of the days.
    changed: [f64; TRIED],
    /// Changed so, or not at all.
    all: f64,
}

impl Alone {
    fn of(product: &Evidence) -> Self {
        let before = CHANCE_BEFORE / TRIED as f64;
        let changed = std::array::from_fn(|day| {
            let speaks = product.speaks_for_itself(day);
            before * if speaks { product.factor(day, (0.0, CHANGE_SD)) } else { 1.0 }
        });
        Self { changed, all: 1.0 - CHANCE_BEFORE + changed.iter().sum::<f64>() }
    }
}

/// Many products that changed on one day, by about as much.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Together {
    day: usize,
    /// How many of the shop's products, as a share.
    share: f64,
    /// What the change does on the scale of the logarithm, give or take [`APART_SD`].
    shift: f64,
    /// How likely it is.
    chance: f64,
}

/// What is believed of changes in a shop.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ShopsChanges {
    /// Chance that each product changes by itself only.
    apart: f64,
    together: Vec<Together>,
}

impl ShopsChanges {
    /// From what is seen of each product.
    pub fn of(products: &[Evidence]) -> Self {
        let alone: Vec<f64> = products.iter().map(|p| Alone::of(p).all).collect();
        let apart = (1.0 - TOGETHER_BEFORE).ln() + alone.iter().map(|l| l.ln()).sum::<f64>();
        let each = (TOGETHER_BEFORE / (TRIED * SHARES.len() * SHIFTS.len()) as f64).ln();
        let on_day = |day: usize| {
            let alone = &alone;
            SHIFTS.iter().flat_map(move |shift| {
                let factors = products.iter().map(|p| p.factor(day, (*shift, APART_SD)));
                let factors: Vec<(f64, f64)> = factors.zip(alone.iter().copied()).collect();
                SHARES.map(|share| {
                    let one = |(factor, alone): &(f64, f64)| (1.0 - share) * alone + share * factor;
                    let chance = each + factors.iter().map(|p| one(p).ln()).sum::<f64>();
                    Together { day, share, shift: *shift, chance }
                })
            })
        };
        let days = (0..TRIED).into_par_iter();
        let mut together: Vec<Together> = days.flat_map_iter(on_day).collect();
        let most = together.iter().fold(apart, |most, one| most.max(one.chance));
        let scaled = |ln: f64| (ln - most).exp();
        let all = scaled(apart) + together.iter().map(|one| scaled(one.chance)).sum::<f64>();
        together.iter_mut().for_each(|one| one.chance = scaled(one.chance) / all);
        together.retain(|one| one.chance > 1e-6);
        Self { apart: scaled(apart) / all, together }
    }

    /// The likeliest change of one of its products, unless any is unlikely.
    pub fn likeliest(&self, product: &Evidence) -> Option<Change> {
        let alone = Alone::of(product);
        // How likely the product's own changes are, and by day those it shares.
        let mut own_scale = self.apart / alone.all;
        let mut chances = [0.0; TRIED];
        let mut moments = Moments::default();
        for one in &self.together {
            let prior = (one.shift, APART_SD);
            let factor = product.factor(one.day, prior);
            let scale = one.chance / ((1.0 - one.share) * alone.all + one.share * factor);
            own_scale += scale * (1.0 - one.share);
            let chance = scale * one.share * factor;
            chances[one.day] += chance;
            moments.add(chance, prior);
        }
        for (chance, own) in chances.iter_mut().zip(alone.changed) {
            *chance += own_scale * own;
            moments.add(own_scale * own, (0.0, CHANGE_SD));
        }
        let chance: f64 = chances.iter().sum();
        let best = (0..TRIED).max_by(|a, b| chances[*a].total_cmp(&chances[*b]))?;
        let age_days = f64::from(7 * WEEKS_AGO[best]);
        let prior = moments.mean_and_sd();
        (chance > LEAST_CHANCE).then_some(Change { age_days, chance, prior })
    }
}

/// Sums for the mean and sd of a mixture.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    weight: f64,
    first: f64,
    second: f64,
}

impl Moments {
    fn add(&mut self, weight: f64, (mean, sd): (f64, f64)) {
        self.weight += weight;
        self.first += weight * mean;
        self.second += weight * (mean * mean + sd * sd);
    }

    fn mean_and_sd(&self) -> (f64, f64) {
        let weight = self.weight.max(f64::MIN_POSITIVE);
        let mean = self.first / weight;
        (mean, (self.second / weight - mean * mean).max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A product used otherwise by so much since so many weeks, known to this sd.
    fn seen(weeks_ago: u32, difference: f64, sd: f64) -> Evidence {
        Evidence::since(weeks_ago, difference, sd * sd)
    }

    fn chance(shop: &[Evidence]) -> f64 {
        ShopsChanges::of(shop).likeliest(&shop[0]).map_or(0.0, |change| change.chance)
    }

    const STEADY: f64 = 0.0;

    #[test]
    fn what_changed_for_many_is_believed_sooner_of_another() {
        let steady = seen(8, STEADY, 0.15);
        let (doubtful, clear) = (seen(8, 0.3, 0.15), seen(8, 0.6, 0.1));
        let alone = chance(&[doubtful, steady, steady, steady, steady]);
        assert!(alone < 0.2, "{alone}");
        let with_others = chance(&[doubtful, clear, clear, steady, steady]);
        assert!(with_others > 0.5, "{with_others}");
        let many_doubtful = chance(&[doubtful; 8]);
        assert!(many_doubtful > 0.8, "{many_doubtful}");
    }

    #[test]
    fn one_product_says_little_of_the_others() {
        let steady = seen(8, STEADY, 0.15);
        let shop = [steady, seen(8, 0.6, 0.1), steady, steady, steady, steady];
        assert!(chance(&shop) < 0.1, "{}", chance(&shop));
        let changed = ShopsChanges::of(&shop).likeliest(&shop[1]).map(|c| (c.age_days, c.chance));
        assert!(changed.is_some_and(|(age, chance)| age == 56.0 && chance > 0.9), "{changed:?}");
    }

    #[test]
    fn what_is_believed_of_a_change_is_what_others_show() {
        let unseen = seen(8, STEADY, 10.0);
        let shop = [&[unseen][..], &[seen(8, -0.4, 0.08); 6]].concat();
        let change = ShopsChanges::of(&shop).likeliest(&unseen);
        let shift = change.map_or(0.0, |change| change.prior.0);
        assert!((-0.5..-0.25).contains(&shift), "{change:?}");
    }
}
