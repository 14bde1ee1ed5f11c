//! What an order comes to by its supplier's terms: goods, freight, how far the free delivery is,
//! and whether the minimum order is reached.

use capful_domain::{Money, Supplier};

use crate::pages::frame::Measures;
use crate::pages::say::words;

/// What an order of goods of some value comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Terms {
    pub goods: Money,
    pub freight: Money,
    /// What is missing to a free delivery, where there is one to reach.
    to_free: Option<Money>,
    free_from: Option<Money>,
    /// What is missing to the minimum order.
    to_minimum: Money,
    minimum: Money,
}

impl Terms {
    /// By the supplier's own terms.
    pub(super) fn of(supplier: &Supplier, goods: Money) -> Self {
        let missing = |goal: Money| Money::from_minor((goal - goods).minor().max(0));
        let freight = if goods == Money::ZERO { Money::ZERO } else { supplier.freight_of(goods) };
        let free_from = supplier.free_freight_over.filter(|_| supplier.freight > Money::ZERO);
        Self {
            goods,
            freight,
            to_free: free_from.map(missing),
            free_from,
            to_minimum: missing(supplier.minimum_order),
            minimum: supplier.minimum_order,
        }
    }

    /// Goods and freight.
    pub(super) fn total(&self) -> Money {
        self.goods + self.freight
    }

    /// Whether something is ordered, and less than the supplier takes an order for.
    pub(super) fn is_below_minimum(&self) -> bool {
        self.goods > Money::ZERO && self.to_minimum > Money::ZERO
    }

    /// How far the free delivery and the minimum are, in sentences.
    pub(super) fn sentences(&self, measures: &Measures) -> Vec<String> {
        let t = words();
        let mut all = Vec::new();
        if let Some((missing, from)) = self.to_free.zip(self.free_from) {
            let name = if missing == Money::ZERO { "order-is-free" } else { "order-to-free" };
            let said = t.say(name).with("missing", measures.money(missing));
            all.push(said.with("from", measures.money(from)).to_string());
        }
        if self.minimum > Money::ZERO {
            let is_below = self.to_minimum > Money::ZERO;
            let name = if is_below { "order-below-minimum" } else { "order-above-minimum" };
            let said = t.say(name).with("missing", measures.money(self.to_minimum));
            all.push(said.with("minimum", measures.money(self.minimum)).to_string());
        }
        all
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use capful_domain::{Currency, Id, Shop};

    fn supplier() -> Supplier {
        Supplier {
            id: Id::parse("north").unwrap(),
            name: "North".to_owned(),
            lead_days: 3.into(),
            lead_days_sd: None,
            order_weekdays: Vec::new(),
            freight: Money::from_minor(1200),
            free_freight_over: Some(Money::from_minor(15_000)),
            minimum_order: Money::from_minor(5000),
        }
    }

    #[test]
    fn freight_is_free_from_its_bound_on_and_the_rest_is_told() {
        let shop = Shop::new("A", chrono_tz::UTC, Currency::parse("CAD").unwrap());
        let measures = Measures::of(&shop);
        let of = |goods| Terms::of(&supplier(), Money::from_minor(goods));
        assert_eq!(of(14_999).total(), Money::from_minor(16_199));
        assert_eq!(of(15_000).total(), Money::from_minor(15_000));
        assert!(of(14_000).sentences(&measures)[0].contains("CAD 10.00"));
        assert!(of(4_999).is_below_minimum() && !of(5_000).is_below_minimum());
        // Nothing ordered costs no delivery, and is not below anything.
        assert_eq!(of(0).total(), Money::ZERO);
        assert!(!of(0).is_below_minimum());
    }
}
