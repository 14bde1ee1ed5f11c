//! Movements: the ledger, which is only ever added to.

use capful_domain::{Effect, Id, Movement, MovementKind, Quantity, Source};
use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::table;
use super::text::{self, Unreadable};

table!("movement", {
    container: String,
    number: i64,
    at: DateTime<Utc>,
    kind: String,
    product: String,
    change: i64,
    effect: String,
    source_kind: String,
    source: String,
    job: Option<String>,
    reverses: Option<Uuid>,
});

const KINDS: [(&str, MovementKind); 8] = [
    ("received", MovementKind::Received),
    ("opened", MovementKind::Opened),
    ("mixed", MovementKind::Mixed),
    ("poured", MovementKind::Poured),
    ("counted", MovementKind::Counted),
    ("discarded", MovementKind::Discarded),
    ("returned", MovementKind::Returned),
    ("reversed", MovementKind::Reversed),
];

const EFFECTS: [(&str, Effect); 6] = [
    ("none", Effect::None),
    ("opens seen", Effect::Opens { seen: true }),
    ("opens", Effect::Opens { seen: false }),
    ("reseals", Effect::Reseals),
    ("discards", Effect::Discards),
    ("restores", Effect::Restores),
];

/// The word for the kind of row that a movement comes from.
pub(crate) const fn source_word(source: &Source) -> &'static str {
    match source {
        Source::Receipt(_) => "receipt",
        Source::Opening(_) => "opening",
        Source::Mix(_) => "mix",
        Source::Pour(_) => "pour",
        Source::Expected(_) => "expected",
        Source::Discard(_) => "discard",
        Source::Count(_) => "count",
    }
}

/// The row of a kind and an id.
pub(crate) fn source(kind: &str, id: Id) -> Result<Source, Unreadable> {
    Ok(match kind {
        "receipt" => Source::Receipt(id),
        "opening" => Source::Opening(id),
        "mix" => Source::Mix(id),
        "pour" => Source::Pour(id),
        "expected" => Source::Expected(id),
        "discard" => Source::Discard(id),
        "count" => Source::Count(id),
        _ => return Err(Unreadable::new("a kind of row", kind)),
    })
}

fn word_of<T: PartialEq>(words: &[(&'static str, T)], value: &T) -> &'static str {
    words.iter().find(|(_, own)| own == value).map_or("", |(word, _)| word)
}

fn value_of<T: Copy>(words: &[(&'static str, T)], word: &str) -> Result<T, Unreadable> {
    let found = words.iter().find(|(own, _)| *own == word).map(|(_, value)| *value);
    found.ok_or_else(|| Unreadable::new("a word", word))
}

/// A movement and where it stands in the database.
#[derive(Debug, Clone)]
pub(crate) struct StoredMovement {
    /// The movement; what it reverses stands below, not in it.
    pub movement: Movement,
    pub id: Uuid,
    /// Its number among its container's.
    pub number: i64,
    /// The movement that it undoes.
    pub reverses: Option<Uuid>,
}

impl StoredMovement {
    pub(crate) fn to_row(&self, shop: Uuid) -> Model {
        let movement = &self.movement;
        Model {
            shop_id: shop,
            id: self.id,
            container: movement.container.to_string(),
            number: self.number,
            at: movement.at,
            kind: word_of(&KINDS, &movement.kind).to_owned(),
            product: movement.product.to_string(),
            change: movement.change.ledger_units(),
            effect: word_of(&EFFECTS, &movement.effect).to_owned(),
            source_kind: source_word(&movement.source).to_owned(),
            source: movement.source.id().to_string(),
            job: text::texts(movement.job.as_ref()),
            reverses: self.reverses,
        }
    }

    pub(crate) fn from_row(row: &Model) -> Result<Self, Unreadable> {
        let movement = Movement {
            at: row.at,
            kind: value_of(&KINDS, &row.kind)?,
            product: text::id(&row.product)?,
            container: text::container(&row.container)?,
            change: Quantity::from_ledger_units(row.change),
            effect: value_of(&EFFECTS, &row.effect)?,
            source: source(&row.source_kind, text::id(&row.source)?)?,
            job: text::maybe(row.job.as_ref(), text::id)?,
            reverses: None,
        };
        Ok(Self { movement, id: row.id, number: row.number, reverses: row.reverses })
    }
}
