//! Counts.

use capful_domain::facts::Count;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// What somebody saw or weighed: of one container, or of the whole product.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CountBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How much was seen.
    #[schema(value_type = Option<schema::NotNegative>)]
    pub quantity: Option<Number>,
    /// Its unit; without it: the product's own.
    #[schema(value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// Weight with its container, in grams, in place of a quantity.
    #[schema(value_type = Option<schema::NotNegative>)]
    pub gross_g: Option<Number>,
    /// Of one container; without it: of the whole product, all that is there.
    #[schema(example = "R-0412/1", value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
    /// Sealed containers seen; then the quantity is what the open ones hold.
    #[schema(value_type = Option<schema::CountOrNone>)]
    pub sealed: Option<Number>,
    /// How exact, as a share (standard deviation); without it: 0.03.
    #[schema(value_type = Option<schema::Share>)]
    pub sd_share: Option<Number>,
}

impl CountBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Count> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let of = product.as_ref();
        let quantity = self.quantity.as_ref();
        let amount = quantity.and_then(|q| reader.amount(of, q, self.unit.as_ref()));
        let gross_g = self.gross_g.as_ref().and_then(|text| reader.gross_g(of, text));
        self.check(reader);
        let container = reader.container(self.container.as_ref());
        let sealed = reader.maybe("sealed", self.sealed.as_ref(), cells::containers_or_none);
        let sd_share = reader.maybe("sd_share", self.sd_share.as_ref(), cells::share);
        let (id, at, product) = (id?, at?, product?);
        Some(Count { id, at, product, amount, gross_g, container, sealed, sd_share })
    }

    fn check(&self, reader: &mut Reader<'_>) {
        match (&self.quantity, &self.gross_g) {
            (Some(_), Some(gross)) => {
                reader.wrong("gross_g", gross, "nothing, as a quantity is given");
            }
            (None, None) if self.sealed.is_none() => {
                reader.wrong("quantity", "", "a quantity, or `gross_g` or `sealed`");
            }
            _ => {}
        }
        if let (None, Some(unit)) = (&self.quantity, &self.unit) {
            reader.wrong("unit", unit, "nothing, as no quantity is given");
        }
    }
}
