//! What changes something, a file for each resource.

mod answer;
mod counts;
mod deeds;
mod discards;
pub(crate) mod jobs;
mod mixes;
mod movements;
mod openings;
mod orders;
mod pours;
mod receipts;
mod set_up;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::api::Api;

/// What happens on the shelf and in the calendar.
pub(crate) fn happening() -> OpenApiRouter<Api> {
    OpenApiRouter::default()
        .routes(routes!(jobs::book))
        .routes(routes!(jobs::change))
        .routes(routes!(jobs::start))
        .routes(routes!(jobs::cancel))
        .routes(routes!(jobs::finish))
        .routes(routes!(pours::pour))
        .routes(routes!(openings::open))
        .routes(routes!(mixes::mix))
        .routes(routes!(discards::discard))
        .routes(routes!(counts::count))
        .routes(routes!(receipts::receive))
        .routes(routes!(orders::order))
        .routes(routes!(orders::cancel_order))
        .routes(routes!(orders::end_order))
        .routes(routes!(movements::reverse))
        .routes(routes!(deeds::undo))
}

/// What the shop is, buys, sells and expects.
pub(crate) fn setting_up() -> OpenApiRouter<Api> {
    OpenApiRouter::default()
        .routes(routes!(set_up::put_shop))
        .routes(routes!(set_up::put_product))
        .routes(routes!(set_up::put_ratio))
        .routes(routes!(set_up::put_supplier))
        .routes(routes!(set_up::put_offer))
        .routes(routes!(set_up::put_job_type))
}
