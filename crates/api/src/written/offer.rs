//! Offers.

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use capful_domain::{Id, Offer};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::path::name_of;
use crate::problem::{Kind, Problem};
use crate::schema;

/// One way to buy one product, as it is from now on.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OfferBody {
    /// Price of the pack.
    #[schema(example = "46.00", value_type = schema::Money)]
    pub price: Number,
    /// The supplier's code.
    #[schema(value_type = Option<schema::Line>)]
    pub code: Option<String>,
    /// The least packs that it sells; without it: 1.
    #[schema(value_type = Option<schema::Count>)]
    pub minimum_packs: Option<Number>,
    /// Whether the shop would rather buy it here.
    #[serde(default)]
    pub preferred: bool,
}

/// What an offer is known by: supplier, product and containers in a pack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct OfferName {
    supplier: Id,
    product: Id,
    pack: u32,
}

impl OfferName {
    /// Of a supplier's pack of a product.
    pub(crate) const fn new(supplier: Id, product: Id, pack: u32) -> Self {
        Self { supplier, product, pack }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for OfferName {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let path = Path::<(String, String, String)>::from_request_parts(parts, state).await;
        let (supplier, product, pack) = path.map(|Path(parts)| parts).unwrap_or_default();
        let read = || {
            let (supplier, product) =
                (Id::parse(name_of(&supplier)).ok()?, Id::parse(name_of(&product)).ok()?);
            Some(Self { supplier, product, pack: cells::containers(&pack).ok()? })
        };
        let detail = "an offer is at /offers/SUPPLIER/PRODUCT/PACK: two ids, and how many \
                      containers are in a pack";
        read().ok_or_else(|| Problem::new(Kind::NotFound, detail))
    }
}

impl OfferBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>, name: &OfferName) -> Option<Offer> {
        let price = reader.money("price", &self.price);
        let code = reader.maybe("code", self.code.as_ref(), cells::text);
        let least = self.minimum_packs.as_ref();
        let minimum_packs = reader.maybe("minimum_packs", least, cells::containers);
        Some(Offer {
            supplier: name.supplier.clone(),
            product: name.product.clone(),
            pack: name.pack,
            price: price?,
            code,
            minimum_packs: minimum_packs.unwrap_or(1),
            preferred: self.preferred,
        })
    }
}
