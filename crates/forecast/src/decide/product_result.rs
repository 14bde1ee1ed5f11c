//! What each product's shelf came to, walked through the futures.

use rayon::prelude::*;

use crate::decide::choose::{Chosen, Limits};
use crate::decide::projection::{Projection, projection};
use crate::plan::ProductOutlook;
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::stock::Stock;

/// What was worked out of one product.
#[derive(Debug, Clone)]
pub(crate) struct ProductResult {
    pub projection: Projection,
    pub outlook: ProductOutlook,
    /// Nothing where nobody sells it.
    pub chosen: Option<Chosen>,
}

/// Walks every product but those of which what was worked out for the last plan still `holds`.
pub(crate) fn product_results(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    holds: impl Fn(usize) -> Option<ProductResult> + Sync,
) -> Vec<ProductResult> {
    let limits = Limits::of(inputs.snapshot);
    let of = |product: usize| {
        holds(product).unwrap_or_else(|| {
            let projection = projection(inputs, stock, product);
            ProductResult {
                outlook: crate::decide::outlook::outlook(inputs, stock, product, &projection),
                chosen: crate::decide::weekly_order::chosen(inputs, stock, &limits, product),
                projection,
            }
        })
    };
    (0..inputs.index.products.len()).into_par_iter().map(of).collect()
}
