//! Plans and backtests as SVG pictures, for a page, a file and paper.
//!
//! A picture is [`WIDTH`] units wide, as wide as a phone, and its smallest text is 12 units high
//! there. Shades differ in grey as well; on a dark screen the colours turn. Doubt is drawn as
//! width. Each has a title and a description that say the same to who cannot see it.
//!
//! Pure: values in, text out.

mod backtest;
mod canvas;
mod demand;
mod measure;
mod names;
mod usage;

pub use backtest::backtest;
pub use canvas::WIDTH;
pub use demand::demand;
pub use names::Names;
pub use usage::usage;
