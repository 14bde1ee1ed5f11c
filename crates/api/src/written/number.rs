//! Numbers as they are written: JSON numbers, or decimals in quotes, kept to the last digit.

use std::fmt;
use std::ops::Deref;

use serde::de::{Deserialize, Deserializer, Error, Visitor};

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
    /// written. Of a longer one what is lost is less than the ledger or a currency tells apart, as
    /// no number that is read is as large as that.
    fn visit_f64<E: Error>(self, number: f64) -> Result<Number, E> {
        // Nothing is nothing, with whatever sign.
        Ok(Number(if number == 0.0 { "0".to_owned() } else { number.to_string() }))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Number, E> {
        Ok(Number(text.to_owned()))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_folder::cells;

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
    fn what_would_lose_digits_that_count_is_refused() {
        // Where a number of JSON loses digits, it is larger than any that is read.
        let lossy = read("12345678901234567.25").unwrap();
        assert!(cells::decimal(&lossy).is_err() && lossy.len() > 15, "{lossy}");
        let sum = read("0.30000000000000004").unwrap();
        assert_eq!(cells::decimal(&sum).unwrap().round_dp(6).normalize().to_string(), "0.3");
        assert!(cells::decimal(&read("5e-324").unwrap()).unwrap().is_zero());
        assert!(cells::decimal(&read("1.7e308").unwrap()).is_err());
        assert_eq!((read("-0").unwrap(), read("-0.0").unwrap()), ("0".into(), "0".into()));
        assert!(read("true").unwrap_err().contains("a number such as 12.5"));
        assert_eq!(read("\"12345678901234567.25\"").unwrap(), "12345678901234567.25");
    }
}
