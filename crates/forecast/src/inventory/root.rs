//! Where an increasing function crosses zero.

/// Halvings after which any bracket of finite numbers has shrunk to two neighbours.
const MAX_HALVINGS: u32 = 2_200;

/// The point in `low..=high` where the increasing `f` goes from below zero to zero or above, as
/// near as numbers stand to each other. An end of the bracket when `f` does not cross within it.
pub(super) fn crossing(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..MAX_HALVINGS {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::crossing;

    #[test]
    fn the_square_root_of_two_is_found_to_the_last_digit() {
        let root = crossing(0.0, 2.0, |x| x * x - 2.0);
        assert!((root - 2.0_f64.sqrt()).abs() <= f64::EPSILON);
    }

    #[test]
    fn a_function_that_never_crosses_ends_at_the_bracket() {
        assert_eq!(crossing(0.0, 1.0, |_| -1.0), 1.0);
    }
}
