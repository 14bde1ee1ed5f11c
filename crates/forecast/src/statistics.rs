//! Means, quantiles and rounding.

/// Mean and standard deviation (of the sample).
pub(crate) fn mean_sd(values: &[f64]) -> (f64, f64) {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0).max(1.0)).sqrt())
}

/// A quantile, between the two nearest values (Hyndman & Fan 1996, type 7).
pub(crate) fn quantile_of(values: &[f64], chance: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    quantile_of_sorted(&sorted, chance)
}

/// The same of values already in rising order; 0 of none.
pub(crate) fn quantile_of_sorted(sorted: &[f64], chance: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return 0.0 };
    let place = chance * last as f64;
    let below = place.floor() as usize;
    let above = sorted[(below + 1).min(last)];
    sorted[below] + (place - below as f64) * (above - sorted[below])
}

/// To so many decimals.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    let rounded = (value * scale).round() / scale;
    // No minus before a zero.
    if rounded == 0.0 { 0.0 } else { rounded }
}
