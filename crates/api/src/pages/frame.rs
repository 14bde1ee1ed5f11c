//! What every page has around it: its title, where it stands, who looks, what was just done.

use std::cell::Cell;

use capful_domain::{Id, Shop};
use capful_store::AuditEntry;
use uuid::Uuid;

use super::assets::{Assets, assets};
use super::names::short;
use super::say::{Words, words};
use super::undo::may_undo;
use super::visitor::Visitor;
use crate::api::Api;
use crate::known::{Known, known};
use crate::problem::Problem;

/// The parts of the house, as the bar at the edge of every page lists them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // each is named after what it is
pub(crate) enum Place {
    Today,
    Shelf,
    Order,
    GoingOff,
    Jobs,
    More,
}

/// Who looks at the page.
#[derive(Debug, Clone)]
pub(crate) struct Who {
    pub name: String,
    pub is_owner: bool,
    csrf: String,
}

/// What was just done.
#[derive(Debug, Clone)]
pub(crate) struct Notice {
    pub text: String,
    /// The deed, where it can be undone.
    pub undo: Option<Uuid>,
}

/// What stands around a page.
#[derive(Debug)]
pub(crate) struct Frame {
    /// What the page says.
    pub t: &'static Words,
    pub title: String,
    pub here: Option<Place>,
    /// The shop's name.
    pub shop: String,
    pub who: Option<Who>,
    pub notice: Option<Notice>,
    /// The page's own path, to come back to.
    pub path: String,
    pub assets: &'static Assets,
    key: Uuid,
    keys: Cell<u32>,
}

impl Frame {
    /// For somebody who is signed in.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn of(
        api: &Api,
        visitor: &Visitor,
        here: Place,
        title: impl std::fmt::Display,
        path: impl Into<String>,
    ) -> Result<Self, Problem> {
        let known = known(api, &visitor.caller).await?;
        let deed = match visitor.done {
            Some(id) => api.store.deed(visitor.caller.shop, id).await?,
            None => None,
        };
        Ok(Self {
            shop: known.shop.name.clone(),
            here: Some(here),
            who: Some(Who {
                name: visitor.person.name.clone(),
                is_owner: visitor.is_owner(),
                csrf: visitor.csrf.clone(),
            }),
            notice: deed.as_ref().map(|deed| Notice::of(visitor.is_owner(), deed, &known)),
            path: path.into(),
            ..Self::open(api, title)
        })
    }

    /// For somebody who is not.
    pub(crate) fn open(api: &Api, title: impl std::fmt::Display) -> Self {
        Self {
            t: words(),
            title: title.to_string(),
            here: None,
            shop: String::new(),
            who: None,
            notice: None,
            path: "/".to_owned(),
            assets: assets(),
            key: api.store.new_uuid(api.now()),
            keys: Cell::new(0),
        }
    }

    /// Whether the page stands in this part.
    pub(crate) fn is_at(&self, place: Place) -> bool {
        self.here == Some(place)
    }

    /// Whether the visitor owns the shop.
    pub(crate) fn is_owner(&self) -> bool {
        self.who.as_ref().is_some_and(|who| who.is_owner)
    }

    /// The fields that a form carries unseen: whose it is, and the key that it is known again by.
    pub(crate) fn hidden(&self) -> String {
        self.keys.set(self.keys.get() + 1);
        let csrf = self.who.as_ref().map(|who| who.csrf.as_str()).unwrap_or_default();
        format!(
            "<input type=\"hidden\" name=\"csrf\" value=\"{csrf}\">\
             <input type=\"hidden\" name=\"key\" value=\"{}-{}\">",
            self.key,
            self.keys.get()
        )
    }
}

impl Notice {
    /// Of a deed, with the products that it was done to by their names.
    fn of(is_owner: bool, deed: &AuditEntry, known: &Known) -> Self {
        let words = words();
        let named = |id: &str| {
            let own = Id::parse(id).ok().and_then(|id| known.products.get(&id));
            own.map_or_else(|| id.to_owned(), |own| own.name.clone())
        };
        let of = deed.of.split(", ").map(named).collect::<Vec<_>>().join(", ");
        let name = format!("deed-{}", deed.what.word());
        let text = words.say(&name).with("of", short(&of)).to_string();
        if deed.undone_at.is_some() {
            let text = words.say("notice-undone").with("what", &text).to_string();
            return Self { text, undo: None };
        }
        Self { text, undo: may_undo(is_owner, deed).then_some(deed.id) }
    }
}

/// How a day is spoken of, seen from another: today, tomorrow, a weekday, a date.
pub(crate) fn day_name(day: chrono::NaiveDate, today: chrono::NaiveDate) -> String {
    let t = words();
    match (day - today).num_days() {
        0 => t.say("day-today").to_string(),
        1 => t.say("day-tomorrow").to_string(),
        -1 => t.say("day-yesterday").to_string(),
        2..=6 => day.format("%A").to_string(),
        _ => day.format("%a %-d %b").to_string(),
    }
}

/// The units of a shop's people, and its money.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measures {
    units: capful_domain::UnitSystem,
    currency: capful_domain::Currency,
}

impl Measures {
    /// As a shop has them.
    pub(crate) const fn of(shop: &Shop) -> Self {
        Self { units: shop.units, currency: shop.currency }
    }

    /// An amount of money.
    pub(crate) fn money(&self, money: capful_domain::Money) -> String {
        self.money_of(money.to_decimal(self.currency))
    }

    /// A decimal as money.
    pub(crate) fn money_of(&self, number: rust_decimal::Decimal) -> String {
        let places = self.currency.decimals();
        let places = usize::try_from(places).unwrap_or_default();
        format!("{} {number:.places$}", self.currency.code())
    }

    /// A quantity of a product.
    pub(crate) fn quantity(
        &self,
        quantity: capful_domain::Quantity,
        product: &capful_domain::Product,
    ) -> String {
        super::amounts::quantity(quantity, product.unit.dimension(), self.units)
    }

    /// An amount of a plan.
    pub(crate) fn amount(&self, amount: &capful_forecast::plan::AmountIn) -> String {
        super::amounts::amount(amount, self.units)
    }

    /// The units that people pour in.
    pub(crate) const fn units(&self) -> capful_domain::UnitSystem {
        self.units
    }
}
