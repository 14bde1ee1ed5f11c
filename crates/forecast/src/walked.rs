//! What each product's shelf came to, walked through the futures.

use rayon::prelude::*;

use crate::choose::{Chosen, Limits};
use crate::futures::Known;
use crate::plan::ProductOutlook;
use crate::prospect::{Prospect, prospect};
use crate::stock::Stock;

/// What was worked out of one product.
#[derive(Debug, Clone)]
pub(crate) struct Walked {
    pub prospect: Prospect,
    pub outlook: ProductOutlook,
    /// Nothing where nobody sells it.
    pub chosen: Option<Chosen>,
}

/// Walks every product but those of which what was worked out for the last plan still `holds`.
pub(crate) fn walked(
    known: &Known<'_>,
    stock: &Stock,
    holds: impl Fn(usize) -> Option<Walked> + Sync,
) -> Vec<Walked> {
    let limits = Limits::of(known.snapshot);
    let of = |product: usize| {
        holds(product).unwrap_or_else(|| {
            let prospect = prospect(known, stock, product);
            Walked {
                outlook: crate::outlook::outlook(known, stock, product, &prospect),
                chosen: crate::weekly_order::chosen(known, stock, &limits, product),
                prospect,
            }
        })
    };
    (0..known.index.products.len()).into_par_iter().map(of).collect()
}
