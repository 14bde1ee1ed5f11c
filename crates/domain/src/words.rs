//! The words that enumerations are written with in files and JSON.

use chrono::Weekday;

use crate::catalog::Form;
use crate::facts::{DiscardReason, Method, OrderStatus};
use crate::job::{JobStatus, VehicleSize};
use crate::shop::UnitSystem;

/// A value written as one word out of a fixed list.
pub trait Word: Sized + Copy + PartialEq + 'static {
    /// Every word with its value, in the order to show them.
    const WORDS: &'static [(&'static str, Self)];

    /// The value of a word.
    #[must_use]
    fn from_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(w, _)| *w == word).map(|(_, value)| *value)
    }

    /// The word of this value.
    #[must_use]
    fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, value)| *value == self).map_or("", |(word, _)| word)
    }
}

impl Word for Form {
    const WORDS: &'static [(&'static str, Self)] =
        &[("ready", Self::ReadyToUse), ("concentrate", Self::Concentrate)];
}

impl Word for Method {
    const WORDS: &'static [(&'static str, Self)] =
        &[("measured", Self::Measured), ("weighed", Self::Weighed), ("expected", Self::Expected)];
}

impl Word for DiscardReason {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("expired", Self::Expired),
        ("spilled", Self::Spilled),
        ("damaged", Self::Damaged),
        ("returned", Self::Returned),
    ];
}

impl Word for OrderStatus {
    const WORDS: &'static [(&'static str, Self)] =
        &[("placed", Self::Placed), ("received", Self::Received), ("cancelled", Self::Cancelled)];
}

impl Word for UnitSystem {
    const WORDS: &'static [(&'static str, Self)] = &[("metric", Self::Metric), ("us", Self::Us)];
}

impl Word for Weekday {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("mon", Self::Mon),
        ("tue", Self::Tue),
        ("wed", Self::Wed),
        ("thu", Self::Thu),
        ("fri", Self::Fri),
        ("sat", Self::Sat),
        ("sun", Self::Sun),
    ];
}

impl Word for VehicleSize {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("small", Self::Small),
        ("medium", Self::Medium),
        ("large", Self::Large),
        ("oversize", Self::Oversize),
    ];
}

impl Word for JobStatus {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("booked", Self::Booked),
        ("started", Self::Started),
        ("done", Self::Done),
        ("cancelled", Self::Cancelled),
    ];
}
