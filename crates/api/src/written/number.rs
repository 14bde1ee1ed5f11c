//! Numbers as they are written: JSON numbers, or decimals in quotes, kept to the last digit.

use std::fmt;
use std::ops::Deref;

use serde::de::{Deserialize, Deserializer, Error, Visitor};
use utoipa::openapi::schema::{OneOfBuilder, SchemaType, Type};
use utoipa::openapi::{ObjectBuilder, RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// Digits that a JSON number is sure to keep on its way through other programs.
const SURE_DIGITS: usize = 15;

/// A number, as it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Number(String);

impl AsRef<str> for Number {
    fn as_ref(&self) -> &str {
        &self.0
    }
}

impl Deref for Number {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(AsWritten)
    }
}

struct AsWritten;

impl Visitor<'_> for AsWritten {
    type Value = Number;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number such as 12.5, or the same in quotes")
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Number, E> {
        Ok(Number(number.to_string()))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Number, E> {
        Ok(Number(number.to_string()))
    }

    /// The shortest decimal that is read as this number: up to fifteen digits that is what was
    /// written.
    fn visit_f64<E: Error>(self, number: f64) -> Result<Number, E> {
        let text = number.to_string();
        let digits = text.bytes().filter(u8::is_ascii_digit);
        if digits.skip_while(|digit| *digit == b'0').count() > SURE_DIGITS {
            let most = format!("a number of at most {SURE_DIGITS} digits, or the same in quotes");
            return Err(E::custom(format!("found {number:e}, expected {most}")));
        }
        Ok(Number(text))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Number, E> {
        Ok(Number(text.to_owned()))
    }
}

impl PartialSchema for Number {
    fn schema() -> RefOr<Schema> {
        let of = |kind| ObjectBuilder::new().schema_type(SchemaType::Type(kind));
        let text = of(Type::String).pattern(Some(r"^\d+(\.\d+)?$"));
        let both = OneOfBuilder::new().item(of(Type::Number)).item(text);
        both.description(Some("A number, or the same as a decimal in quotes.")).into()
    }
}

impl ToSchema for Number {}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn read(json: &str) -> Result<String, String> {
        let number = serde_json::from_str::<Number>(json);
        number.map(|number| number.to_string()).map_err(|error| error.to_string())
    }

    #[test]
    fn numbers_are_kept_as_they_are_written() {
        for same in ["0", "12.5", "0.1", "0.001", "600", "18446744073709551615", "1234567890.12345"]
        {
            assert_eq!(read(same).unwrap(), same);
            assert_eq!(read(&format!("\"{same}\"")).unwrap(), same);
        }
        assert_eq!(read("6e2").unwrap(), "600");
        assert_eq!(read("-3").unwrap(), "-3");
    }

    #[test]
    fn what_would_lose_digits_is_refused() {
        assert!(read("12345678901234567.25").unwrap_err().contains("at most 15 digits"));
        assert!(read("true").unwrap_err().contains("a number such as 12.5"));
        assert_eq!(read("\"12345678901234567.25\"").unwrap(), "12345678901234567.25");
    }
}
