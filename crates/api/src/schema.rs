//! What the values of a request look like, for its description: as the readers of
//! `capful_folder::cells` and `capful_domain` take them, with the same bounds.
//!
//! A pattern is of the dialect that JSON Schema names (ECMA 262, with the flag `u`), and holds for
//! the whole text. What no pattern can say (that a row is there, that a digit checks, that money is
//! no finer than its currency) is answered with a problem.

use capful_domain::{
    Currency, Form, JobStatus, MOST_CHARS, MOST_WATER, Unit, UnitSystem, VehicleSize, Word, facts,
};
use capful_folder::cells::{
    MOST_CONTAINERS, MOST_DAYS, MOST_MONEY, MOST_NOTES, MOST_NUMBER, MOST_TEXT,
};
use utoipa::openapi::schema::{AdditionalProperties, OneOfBuilder, SchemaFormat, SchemaType, Type};
use utoipa::openapi::{KnownFormat, ObjectBuilder, Ref, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

use crate::problem::Kind;
use crate::{once, page};

/// Names a value for each description, and lists them all.
macro_rules! described {
    ($($name:ident: $about:literal = $schema:expr;)*) => {
        $(
            #[doc = $about]
            pub(crate) enum $name {}

            impl PartialSchema for $name {
                fn schema() -> RefOr<Schema> {
                    let (about, schema): (&str, Described) = ($about, $schema.into());
                    schema.about(about)
                }
            }

            impl ToSchema for $name {}
        )*

        /// Every value that is described here, by its name.
        pub(crate) fn all() -> Vec<(String, RefOr<Schema>)> {
            vec![$(($name::name().into_owned(), $name::schema())),*]
        }
    };
}

/// A schema that its description is still to be put to.
enum Described {
    Plain(Box<ObjectBuilder>),
    Either(Box<OneOfBuilder>),
}

impl From<ObjectBuilder> for Described {
    fn from(plain: ObjectBuilder) -> Self {
        Self::Plain(Box::new(plain))
    }
}

impl From<OneOfBuilder> for Described {
    fn from(either: OneOfBuilder) -> Self {
        Self::Either(Box::new(either))
    }
}

impl Described {
    fn about(self, about: &str) -> RefOr<Schema> {
        let about = Some(about.trim());
        match self {
            Self::Plain(plain) => plain.description(about).into(),
            Self::Either(either) => either.description(about).into(),
        }
    }
}

described! {
    Id: "The shop's own name of a row: letters, digits, `.`, `_` or `-`."
        = text(&id_pattern(""));
    ContainerName: "A container: the row that brought it and its number, or the id of a mix."
        = text(&id_pattern(CONTAINER_NUMBER));
    Line: "A text of one line, without control characters."
        = text(&format!("^[^{CONTROL}]*[^{CONTROL}{SPACE}][^{CONTROL}]*$"))
            .max_length(Some(MOST_TEXT));
    Notes: "A text that may have lines and tabs, and no other control characters."
        = text(&notes_pattern()).max_length(Some(MOST_NOTES));
    Gtin: "A GTIN of 8, 12, 13 or 14 digits; the last one checks the others."
        = text("^(?:[0-9]{8}|[0-9]{12,14})$");
    Day: "A calendar day." = day();
    Time: "A day (its first moment in the shop's zone), a time on the shop's clock, or a time with \
           its offset (RFC 3339)."
        = text(&format!("^{}$", time_pattern()));
    Zone: "A time zone of the IANA's list." = words(zones());
    Currency3: "A currency's code (ISO 4217)." = words(currencies());
    UnitWord: "A unit." = words(Unit::ALL.map(Unit::symbol));
    SizeWord: "A vehicle's size." = word::<VehicleSize>();
    WeekdayWord: "A weekday." = word::<chrono::Weekday>();
    FormWord: "How a product is sold." = word::<Form>();
    UnitsWord: "How quantities are shown." = word::<UnitSystem>();
    ReasonWord: "Why something was thrown away." = word::<facts::DiscardReason>();
    MethodWord: "How a quantity is known." = word::<facts::Method>();
    MeasuredWord: "How a quantity was measured." = words(measured());
    RestWord: "What a job took of the rest of its usage sheet." = words(["expected", "none"]);
    NotNegative: "A number that is not negative, or the same in quotes."
        = number(decimal_from(0.0), &up_to(MOST_NUMBER));
    Positive: "A number above 0, or the same in quotes."
        = number(decimal_from(LEAST), &above_zero(MOST_NUMBER));
    Share: "A share from 0 to 1, or the same in quotes."
        = number(decimal_from(0.0).maximum(Some(1)), &up_to(1));
    Chance: "A share above 0 and below 1, or the same in quotes."
        = number(decimal_from(LEAST).maximum(None::<f64>).exclusive_maximum(Some(1)), CHANCE);
    Money: "Money in the shop's currency and no finer than that is counted, or the same in quotes."
        = number(decimal_from(0.0).maximum(Some(most(MOST_MONEY))), &up_to(MOST_MONEY));
    Water: "Parts of water to one part of product, with at most three decimals, or the same in \
            quotes."
        = number(
            decimal_from(0.0).maximum(Some(most(WATER))).multiple_of(Some(0.001)),
            &thousandths_up_to(WATER),
        );
    Parts: "Days, which may have decimals, or the same in quotes."
        = number(decimal_from(0.0).maximum(Some(most(MOST_DAYS.into()))), &up_to(MOST_DAYS.into()));
    Days: "Whole days, or the same in quotes." = whole(0, MOST_DAYS);
    DaysFromOne: "Whole days from 1, or the same in quotes." = whole(1, MOST_DAYS);
    Count: "A whole number of containers or packs from 1, or the same in quotes."
        = whole(1, MOST_CONTAINERS);
    CountOrNone: "A whole number of containers, or the same in quotes." = whole(0, MOST_CONTAINERS);
    SizeFactors: "How much more each size takes than medium."
        = factors(VehicleSize::WORDS.iter().map(|(word, _)| *word));
    ConditionFactors: "How much more each grade takes than grade 3."
        = factors(["1", "2", "3", "4", "5"]);
    FolderFiles: "Each file's text, by its name; `shop.toml` is always among them."
        = ObjectBuilder::new()
            .schema_type(SchemaType::Type(Type::Object))
            .property("shop.toml", plain())
            .required("shop.toml")
            .additional_properties(Some(plain()));
    ProblemType: "Which kind of problem." = words(problem_types());
    Lot: "A batch code, or the row that brought the lot." = plain().min_length(Some(1));
    Pack: "Containers in a pack." = whole_between(1, MOST_CONTAINERS.into());
    Grade: "A condition: 1 (well kept) to 5 (neglected), or the same in quotes." = whole(1, 5);

    AskedTime: "A day (its first moment in the shop's zone), a time on the shop's clock, or a time \
                with its offset (RFC 3339); or nothing."
        = text(&format!("^(?:{})?$", time_pattern()));
    AskedDay: "A calendar day, or nothing." = text(&format!("^(?:{})?$", day_pattern()));
    AskedLimit: "Rows of a page, or nothing."
        = or_nothing(whole_between(1, page::MOST.into()));
    AskedSeed: "A seed, or nothing." = or_nothing(whole_between(0, u64::MAX));
    AskedCursor: "What the page before gave as `next`, or nothing."
        = or_nothing(plain().format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid))));
    AskedId: "The shop's own name of a row, or nothing." = or_nothing(text(&id_pattern("")));
    AskedContainer: "A container, or nothing." = or_nothing(text(&id_pattern(CONTAINER_NUMBER)));
    AskedAnswer: "`yes`, `no`, or nothing." = words(["yes", "no", ""]);
    AskedJobStatus: "How far a job has come, or nothing." = word_or_nothing::<JobStatus>();
    AskedOrderStatus: "How far an order has come, or nothing."
        = word_or_nothing::<facts::OrderStatus>();

    IdempotencyKey: "Visible ASCII characters that are this request's own."
        = text("^[!-~]+$").min_length(Some(1)).max_length(Some(once::LONGEST_KEY));
    IfMatch: "The one `ETag` that was read."
        = text(r#"^(?:W/)?"[1-9][0-9]{0,17}"$"#);
    IfNoneMatch: "`*`: make it only where there is none yet." = words(["*"]);
}

/// What stands behind the row's id in the name of a container.
const CONTAINER_NUMBER: &str = "(?:/0*[1-9][0-9]{0,8})?";

/// The least number above 0 that is told from it.
const LEAST: f64 = 1e-28;
const CHANCE: &str = "0+\\.[0-9]{0,27}[1-9][0-9]*";
const WATER: u64 = MOST_WATER.unsigned_abs();

/// What is never in a text, and what a text does not consist of alone.
const CONTROL: &str = r"\u0000-\u001F\u007F-\u009F";
const SPACE: &str = r" \u00A0\u1680\u2000-\u200A\u2028\u2029\u202F\u205F\u3000";

/// Any text.
fn plain() -> ObjectBuilder {
    ObjectBuilder::new().schema_type(SchemaType::Type(Type::String))
}

/// A text of a pattern.
fn text(pattern: &str) -> ObjectBuilder {
    plain().pattern(Some(pattern))
}

/// A number for each of some names.
fn factors(names: impl IntoIterator<Item = &'static str>) -> ObjectBuilder {
    let all = ObjectBuilder::new().schema_type(SchemaType::Type(Type::Object));
    let factor =
        |all: ObjectBuilder, name| all.property(name, Ref::from_schema_name(Positive::name()));
    let all = names.into_iter().fold(all, factor);
    all.additional_properties(Some(AdditionalProperties::<Schema>::FreeForm(false)))
}

/// The same, or a parameter without a value: that asks for nothing.
fn or_nothing(value: ObjectBuilder) -> OneOfBuilder {
    OneOfBuilder::new().item(value).item(plain().max_length(Some(0)))
}

fn id_pattern(behind: &str) -> String {
    format!(r"^[\p{{Alpha}}\p{{N}}._\-]{{1,{MOST_CHARS}}}{behind}$")
}

fn notes_pattern() -> String {
    let any = format!(r"(?:[^{CONTROL}]|[\n\t]|\r\n)*");
    format!("^{any}[^{CONTROL}{SPACE}]{any}$")
}

/// One of some words.
fn words<S: Into<String>>(words: impl IntoIterator<Item = S>) -> ObjectBuilder {
    let words: Vec<String> = words.into_iter().map(Into::into).collect();
    plain().enum_values(Some(words))
}

fn word<T: Word>() -> ObjectBuilder {
    words(T::WORDS.iter().map(|(word, _)| *word))
}

fn word_or_nothing<T: Word>() -> ObjectBuilder {
    words(T::WORDS.iter().map(|(word, _)| *word).chain([""]))
}

fn measured() -> impl Iterator<Item = &'static str> {
    let known = facts::Method::WORDS.iter().filter(|(_, how)| *how != facts::Method::Expected);
    known.map(|(word, _)| *word)
}

fn zones() -> impl Iterator<Item = &'static str> {
    chrono_tz::TZ_VARIANTS.iter().map(|zone| zone.name())
}

fn problem_types() -> impl Iterator<Item = String> {
    Kind::ALL.into_iter().map(|kind| format!("/problems/{}", kind.parts().0))
}

/// Every code of three letters that is a currency's.
fn currencies() -> impl Iterator<Item = String> {
    let letters = || 'A'..='Z';
    let codes = letters().flat_map(move |a| {
        letters().flat_map(move |b| letters().map(move |c| String::from_iter([a, b, c])))
    });
    codes.filter(|code| Currency::parse(code).is_some())
}

const YEAR: &str = "(?:19[7-9][0-9]|[2-9][0-9]{3})";
const LEAP_YEAR: &str = "(?:19(?:7[26]|8[048]|9[26])|[2-9][0-9](?:0[48]|[2468][048]|[13579][26])|\
                         (?:[2468][048]|[3579][26])00)";
const IN_YEAR: &str = "(?:(?:0[13578]|1[02])-(?:0[1-9]|[12][0-9]|3[01])|\
                       (?:0[469]|11)-(?:0[1-9]|[12][0-9]|30)|02-(?:0[1-9]|1[0-9]|2[0-8]))";
const CLOCK: &str = "(?:[01][0-9]|2[0-3]):[0-5][0-9]";

fn day_pattern() -> String {
    format!("(?:{YEAR}-{IN_YEAR}|{LEAP_YEAR}-02-29)")
}

pub(crate) fn time_pattern() -> String {
    let day = day_pattern();
    let local = format!("T{CLOCK}(?::[0-5][0-9])?");
    let seconds = r"(?:[0-5][0-9]|60)(?:\.[0-9]+)?";
    let offset = format!(r"(?:[Zz]|[+\-\u2212]{CLOCK})");
    format!("{day}(?:{local}|[Tt ]{CLOCK}:{seconds}{offset})?")
}

fn day() -> ObjectBuilder {
    text(&format!("^{}$", day_pattern())).format(Some(SchemaFormat::KnownFormat(KnownFormat::Date)))
}

/// A bound as JSON has it.
#[allow(clippy::cast_precision_loss)] // the bounds are powers of ten that a number can hold
const fn most(bound: u64) -> f64 {
    bound as f64
}

fn decimal_from(least: f64) -> ObjectBuilder {
    let number = ObjectBuilder::new().schema_type(SchemaType::Type(Type::Number));
    number.minimum(Some(least)).maximum(Some(most(MOST_NUMBER)))
}

/// A number, or its decimal in quotes.
fn number(number: ObjectBuilder, quoted: &str) -> OneOfBuilder {
    OneOfBuilder::new().item(number).item(text(&format!("^(?:{quoted})$")))
}

/// A whole number, or the same in quotes.
fn whole(least: u32, most: u32) -> OneOfBuilder {
    let none = if least == 0 { "0|" } else { "" };
    let quoted = format!("0*(?:{none}{})", from_one_to(most.into()));
    number(whole_between(least.into(), most.into()), &quoted)
}

fn whole_between(least: u64, most: u64) -> ObjectBuilder {
    let whole = ObjectBuilder::new().schema_type(SchemaType::Type(Type::Integer));
    let bound = |bound: u64| usize::try_from(bound).unwrap_or(usize::MAX);
    whole.minimum(Some(bound(least))).maximum(Some(bound(most)))
}

/// The decimals from 0 to a whole number.
fn up_to(most: u64) -> String {
    format!("{}|0+(?:\\.[0-9]+)?", from_one(most))
}

/// The decimals above 0 to a whole number.
fn above_zero(most: u64) -> String {
    format!("{}|{CHANCE}", from_one(most))
}

/// The decimals from 1 to a whole number.
fn from_one(most: u64) -> String {
    let below = if most > 1 { from_one_to(most - 1) } else { String::new() };
    let below = if below.is_empty() { below } else { format!("(?:{below})(?:\\.[0-9]+)?|") };
    format!("0*(?:{below}{most}(?:\\.0+)?)")
}

fn thousandths_up_to(most: u64) -> String {
    let below = from_one_to(most - 1);
    format!("0*(?:(?:0|{below})(?:\\.[0-9]{{1,3}}0*)?|{most}(?:\\.0+)?)")
}

/// The whole numbers from 1 to another one, as they are written.
fn from_one_to(most: u64) -> String {
    let digits: Vec<u8> = most.to_string().bytes().map(|digit| digit - b'0').collect();
    let rest = |left: usize| if left == 0 { String::new() } else { format!("[0-9]{{{left}}}") };
    let mut all = Vec::new();
    if digits.len() > 1 && digits.iter().all(|digit| *digit == 9) {
        return format!("[1-9][0-9]{{0,{}}}", digits.len() - 1);
    }
    if digits.len() > 1 {
        all.push(format!("[1-9][0-9]{{0,{}}}", digits.len() - 2));
    }
    let mut before = String::new();
    for (place, digit) in digits.iter().enumerate() {
        let least = u8::from(place == 0);
        if *digit > least {
            let below = digit - 1;
            all.push(format!("{before}[{least}-{below}]{}", rest(digits.len() - place - 1)));
        }
        before.push(char::from(b'0' + digit));
    }
    all.push(before);
    all.join("|")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers_are_written_digit_by_digit() {
        assert_eq!(from_one_to(5), "[1-4]|5");
        assert_eq!(
            from_one_to(36_500),
            "[1-9][0-9]{0,3}|[1-2][0-9]{4}|3[0-5][0-9]{3}|36[0-4][0-9]{2}|36500"
        );
        assert_eq!(from_one_to(999), "[1-9][0-9]{0,2}");
        assert_eq!(from_one_to(10_000), "[1-9][0-9]{0,3}|10000");
    }

    #[test]
    fn the_years_are_those_that_are_read() {
        assert_eq!(capful_domain::YEARS, 1970..=9999);
    }

    #[test]
    fn currencies_and_zones_are_all_listed() {
        let codes: Vec<String> = currencies().collect();
        for code in ["CAD", "EUR", "JPY", "KWD"] {
            assert!(codes.iter().any(|own| own == code), "{code}");
        }
        assert!(zones().any(|zone| zone == "America/Halifax"));
    }
}
