//! What somebody looks at the shop with.

/// A screen, and how its browser is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// In CSS pixels.
    pub width: u32,
    /// In CSS pixels.
    pub height: u32,
    /// Held in a hand: touched with a finger, and laid out as phones do.
    pub in_hand: bool,
    /// The person prefers light letters on dark ground.
    pub dark: bool,
    /// Whether scripts of pages run.
    pub scripts: bool,
}

impl Look {
    /// A phone, held upright.
    pub const PHONE: Self =
        Self { width: 390, height: 844, in_hand: true, dark: false, scripts: true };

    /// A laptop.
    pub const LAPTOP: Self =
        Self { width: 1280, height: 800, in_hand: false, dark: false, scripts: true };

    /// Every screen that a page is meant for, in both colours.
    pub const ALL: [Self; 4] = [Self::PHONE, Self::PHONE.dark(), Self::LAPTOP, Self::LAPTOP.dark()];

    /// The same in dark colours.
    pub const fn dark(self) -> Self {
        Self { dark: true, ..self }
    }

    /// The same with the scripts of pages off.
    pub const fn without_scripts(self) -> Self {
        Self { scripts: false, ..self }
    }

    /// The end of a picture's name: `390`, `1280-dark`.
    pub fn suffix(self) -> String {
        format!("{}{}", self.width, if self.dark { "-dark" } else { "" })
    }
}
