//! What rounds came to, and the table of it.

use std::ops::AddAssign;

/// What one round, or many, came to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Figures {
    pub rounds: u64,
    /// Faults that were put in the way.
    pub faults: u64,
    /// Requests that were acknowledged.
    pub acknowledged: u64,
    /// Requests that were refused.
    pub refused: u64,
    /// Requests that were told nothing certain when the fault was over.
    pub unknown: u64,
    /// Acknowledged, and not there.
    pub lost: u64,
    /// There twice, or there and refused or never asked for.
    pub doubled: u64,
    /// There in part.
    pub half_done: u64,
    /// Rounds after which the books do not add up.
    pub wrong_books: u64,
    /// Anything else that is held and was not so.
    pub otherwise: u64,
    /// Each finding in words.
    pub findings: Vec<String>,
}

impl Figures {
    /// Whether all is as it should be.
    pub fn is_well(&self) -> bool {
        self.lost + self.doubled + self.half_done + self.wrong_books + self.otherwise == 0
    }

    pub fn lost(&mut self, what: String) {
        self.lost += 1;
        self.findings.push(format!("lost: {what}"));
    }

    pub fn doubled(&mut self, what: String) {
        self.doubled += 1;
        self.findings.push(format!("doubled: {what}"));
    }

    pub fn half_done(&mut self, what: String) {
        self.half_done += 1;
        self.findings.push(format!("half done: {what}"));
    }

    pub fn otherwise(&mut self, what: String) {
        self.otherwise += 1;
        self.findings.push(format!("otherwise: {what}"));
    }

    pub fn wrong_books(&mut self, what: &[String]) {
        if !what.is_empty() {
            self.wrong_books += 1;
            self.findings.extend(what.iter().map(|what| format!("books: {what}")));
        }
    }
}

impl AddAssign for Figures {
    fn add_assign(&mut self, other: Self) {
        self.rounds += other.rounds;
        self.faults += other.faults;
        self.acknowledged += other.acknowledged;
        self.refused += other.refused;
        self.unknown += other.unknown;
        self.lost += other.lost;
        self.doubled += other.doubled;
        self.half_done += other.half_done;
        self.wrong_books += other.wrong_books;
        self.otherwise += other.otherwise;
        self.findings.extend(other.findings);
    }
}

/// The table of what each kind came to.
pub fn table(rows: &[(&str, Figures)]) -> String {
    let heads = ["rounds", "faults", "done", "refused", "unknown", "lost", "doubled", "half done"];
    let mut text = format!("{:<18}", "kind");
    for head in heads {
        text.push_str(&format!("{head:>10}"));
    }
    text.push_str("   books add up   otherwise\n");
    for (name, f) in rows {
        text.push_str(&format!("{name:<18}"));
        let numbers = [f.rounds, f.faults, f.acknowledged, f.refused, f.unknown];
        for number in numbers.into_iter().chain([f.lost, f.doubled, f.half_done]) {
            text.push_str(&format!("{number:>10}"));
        }
        let books = format!("{} of {}", f.rounds.saturating_sub(f.wrong_books), f.rounds);
        text.push_str(&format!("{books:>15}{:>12}\n", f.otherwise));
    }
    text
}
