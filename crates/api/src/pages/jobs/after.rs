//! What a done job took of each product, beside what such a job is expected to take: out of which
//! lots, and at what cost.

use std::collections::BTreeMap;

use capful_domain::costs::{JobLine, job_cost};
use capful_domain::{Id, Job, Ledger, Money, Product, Quantity, Snapshot};

use crate::api::Api;
use crate::known::Known;
use crate::pages::drawing;
use crate::pages::frame::Measures;
use crate::pages::say::words;
use crate::pages::visitor::Visitor;
use crate::path::segment;
use crate::problem::Problem;
use crate::routes::costs::is_expected;
use crate::view;

/// What a done job took.
pub(crate) struct Took {
    pub lines: Vec<Line>,
    /// What that cost, and what the price leaves: the owner's to see.
    pub total: String,
    pub left: Option<String>,
}

/// What it took of one product.
pub(crate) struct Line {
    pub product: String,
    pub amount: String,
    /// Whether it was measured, or is what such a job is taken to use.
    pub is_measured: bool,
    pub expected: String,
    /// Both, drawn beside each other where it was measured.
    pub drawing: String,
    /// The lots, and the paths of their traces.
    pub lots: Vec<(String, String)>,
    pub cost: String,
}

impl Took {
    /// Of a done job.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn of(
        api: &Api,
        visitor: &Visitor,
        known: &Known,
        job: &Job,
    ) -> Result<Self, Problem> {
        let (snapshot, ledger) = view::books(api, &visitor.caller, None).await?;
        let mut expected: BTreeMap<Id, Quantity> = BTreeMap::new();
        for pour in known.expected_for(api, &visitor.caller, job).await? {
            *expected.entry(pour.product).or_default() += pour.quantity;
        }
        let cost = job_cost(&ledger, &job.id);
        let mut products: Vec<&Id> = cost.lines.iter().map(|line| &line.product).collect();
        products.extend(expected.keys());
        let mut seen = std::collections::BTreeSet::new();
        products.retain(|id| seen.insert(*id));
        let of_product = OfProduct { known, snapshot: &snapshot, ledger: &ledger, job };
        let lines = products.into_iter().filter_map(|id| {
            let own: Vec<&JobLine> = cost.lines.iter().filter(|line| line.product == *id).collect();
            of_product.line(known.products.get(id)?, &own, expected.get(id).copied())
        });
        let measures = Measures::of(&known.shop);
        let left = job.price.map(|price| measures.money(price - cost.total));
        Ok(Self { lines: lines.collect(), total: measures.money(cost.total), left })
    }
}

struct OfProduct<'p> {
    known: &'p Known,
    snapshot: &'p Snapshot,
    ledger: &'p Ledger,
    job: &'p Job,
}

impl OfProduct<'_> {
    fn line(
        &self,
        product: &Product,
        own: &[&JobLine],
        expected: Option<Quantity>,
    ) -> Option<Line> {
        let measures = Measures::of(&self.known.shop);
        let took: Quantity = own.iter().map(|line| line.quantity).sum();
        let as_expected = is_expected(self.snapshot, &self.job.id, &product.id)
            || own.iter().any(|line| line.expected);
        let is_measured = !as_expected;
        // A product of its sheet that was not poured at all is there too, as measured at nothing.
        let was_said = |pour: &capful_domain::facts::Pour| {
            pour.job.as_ref() == Some(&self.job.id) && pour.product == product.id
        };
        if own.is_empty() && !self.snapshot.facts.pours.iter().any(was_said) {
            return None;
        }
        let (amount, said) = (measures.quantity(took, product), expected.unwrap_or_default());
        let of = measures.quantity(said, product);
        let label = words().say("took-drawn").with("amount", &amount).with("expected", &of);
        let cost: Money = own.iter().map(|line| line.cost).sum();
        Some(Line {
            product: product.name.clone(),
            is_measured,
            drawing: match is_measured && expected.is_some() {
                true => drawing::against(took, said, &label.to_string()),
                false => String::new(),
            },
            expected: if expected.is_some() { of } else { String::new() },
            lots: self.lots(own),
            cost: measures.money(cost),
            amount,
        })
    }

    fn lots(&self, own: &[&JobLine]) -> Vec<(String, String)> {
        let mut names: Vec<&str> = Vec::new();
        for container in own.iter().filter_map(|line| self.ledger.container(&line.container)) {
            let name = container.lot.name();
            if !names.contains(&name) {
                names.push(name);
            }
        }
        let link = |name: &str| (name.to_owned(), format!("/trace/lots/{}", segment(name)));
        names.into_iter().map(link).collect()
    }
}
