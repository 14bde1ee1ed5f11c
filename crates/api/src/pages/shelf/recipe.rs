//! A mix worked out: how much product and how much water for a bottle.

use capful_domain::{Amount, Form, NamedRatio, Product, Ratio};

use super::books::Books;
use super::cautions;
use crate::pages::amounts::{Measure, measure, measures};
use crate::pages::finish::in_ledger;
use crate::pages::form::Fields;
use crate::pages::say::words;

/// The bottle that a recipe begins with, in the units of the shop.
const BOTTLES: [(&str, &str); 2] = [("mL", "500"), ("fl oz", "16")];

/// A concentrate cut for a bottle.
pub(super) struct Recipe {
    /// What the shop calls each ratio, and its parts of water.
    pub ratios: Vec<(String, String)>,
    /// What the bottle holds, as written.
    pub bottle: String,
    pub measure: &'static str,
    pub measures: &'static [Measure],
    /// Parts of water.
    pub water: String,
    /// What goes in, in its order; empty where what was asked cannot be worked out.
    pub steps: Vec<String>,
    /// What is asked that cannot be worked out.
    pub wrong: Option<String>,
    /// What is said once more by the button.
    pub mixed: String,
}

impl Recipe {
    /// Of a concentrate, for what stands behind the `?` or was sent; none for what is used as it
    /// comes.
    pub(super) fn of(books: &Books, product: &Product, fields: &Fields) -> Option<Self> {
        if product.form != Form::Concentrate {
            return None;
        }
        let named = books.snapshot.facts.ratios.iter().filter(|own| own.product == product.id);
        let mut named: Vec<&NamedRatio> = named.collect();
        named.sort_by_key(|own| own.ratio);
        let text = |own: &&NamedRatio| (own.label.clone(), own.ratio.water().to_string());
        let ratios: Vec<_> = named.iter().map(text).collect();
        let all = measures(product.unit.dimension(), books.measures.units());
        let sent = fields.text("measure").and_then(measure);
        let chosen = sent.or_else(|| all.first().copied())?;
        let usual = BOTTLES.iter().find(|(word, _)| *word == chosen.word);
        let bottle = fields.text("bottle").or(usual.map(|(_, bottle)| *bottle)).unwrap_or("1");
        let first = ratios.first().map_or("10", |(_, water)| water.as_str());
        let water = fields.text("water").unwrap_or(first).replace(',', ".");
        let mut recipe = Self {
            bottle: bottle.to_owned(),
            measure: chosen.word,
            measures: all,
            water,
            steps: Vec::new(),
            wrong: None,
            mixed: String::new(),
            ratios,
        };
        recipe.work_out(books, product);
        Some(recipe)
    }

    fn work_out(&mut self, books: &Books, product: &Product) {
        let t = words();
        let ratio = self.water.parse().ok().and_then(|parts| Ratio::from_water(parts).ok());
        let (number, unit) = in_ledger(&self.bottle, self.measure);
        let unit = unit.and_then(capful_domain::Unit::parse).unwrap_or(product.unit);
        let number = number.parse().ok().filter(|number| *number > rust_decimal::Decimal::ZERO);
        let mix = number.and_then(|number| product.quantity(Amount { number, unit }).ok());
        let (Some(ratio), Some(mix)) = (ratio.filter(|own| !own.is_neat()), mix) else {
            self.wrong = Some(t.say("recipe-wrong").to_string());
            return;
        };
        let neat = ratio.product_in(mix);
        let show = |quantity| books.measures.quantity(quantity, product);
        let water = t.say("recipe-water").with("amount", show(mix - neat)).to_string();
        let name = if cautions::corrodes(product) { "recipe-slowly" } else { "recipe-product" };
        let own = t.say(name).with("amount", show(neat)).with("product", &product.name).to_string();
        self.steps = vec![water, own];
        let mixed = t.say("recipe-mixed").with("amount", show(mix)).with("ratio", ratio);
        self.mixed = mixed.to_string();
    }
}
