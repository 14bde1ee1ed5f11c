//! Suppliers.

use capful_domain::{Id, Supplier};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// Who sells, as it is from now on.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SupplierBody {
    /// The id in the address, or nothing.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// Its name.
    #[schema(example = "North Dock Supply", value_type = schema::Line)]
    pub name: String,
    /// Days from order to shelf, as the supplier says.
    #[schema(value_type = schema::Parts)]
    pub lead_days: Number,
    /// How much that varies (standard deviation, days).
    #[schema(value_type = Option<schema::Parts>)]
    pub lead_days_sd: Option<Number>,
    /// Weekdays on which it takes orders, such as `mon`; none: any.
    #[serde(default)]
    #[schema(value_type = Vec<schema::WeekdayWord>)]
    pub order_weekdays: Vec<String>,
    /// What one delivery costs; without it: nothing.
    #[schema(value_type = Option<schema::Money>)]
    pub freight: Option<Number>,
    /// Goods from this value on come freight free.
    #[schema(value_type = Option<schema::Money>)]
    pub free_freight_over: Option<Number>,
    /// The least value of goods that it takes an order for; without it: any.
    #[schema(value_type = Option<schema::Money>)]
    pub minimum_order: Option<Number>,
}

impl SupplierBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>, id: &Id) -> Option<Supplier> {
        reader.same_id(id, self.id.as_ref());
        let name = reader.read("name", &self.name, cells::text);
        let lead_days = reader.read("lead_days", &self.lead_days, cells::days_and_parts);
        let sd = self.lead_days_sd.as_ref();
        let lead_days_sd = reader.maybe("lead_days_sd", sd, cells::days_and_parts);
        let order_weekdays = reader.texts("order_weekdays", &self.order_weekdays, cells::word);
        let freight = reader.maybe_money("freight", self.freight.as_ref());
        let over = self.free_freight_over.as_ref();
        let free_freight_over = reader.maybe_money("free_freight_over", over);
        let minimum_order = reader.maybe_money("minimum_order", self.minimum_order.as_ref());
        Some(Supplier {
            id: id.clone(),
            name: name?,
            lead_days: lead_days?,
            lead_days_sd,
            order_weekdays,
            freight: freight.unwrap_or_default(),
            free_freight_over,
            minimum_order: minimum_order.unwrap_or_default(),
        })
    }
}
