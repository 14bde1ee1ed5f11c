//! A single cell: what is read of it, written and read again, is the same.

use capful_domain::{AsOf, Condition, ContainerId, Currency, Id, Shop, Unit, VehicleSize, Word};
use capful_folder::cells;
use chrono_tz::Tz;

/// Every rule of a cell.
pub fn cells(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    names(text);
    numbers(text);
    moments(text);
    let _ = (cells::text(text), cells::notes(text), cells::gtin(text), cells::yes(text));
    let _ = (cells::timezone(text), cells::unit(text), cells::list(text, cells::text));
    let _ = (cells::word::<VehicleSize>(text), cells::condition(text).map(Condition::grade));
}

fn names(text: &str) {
    if let Ok(id) = Id::parse(text) {
        assert_eq!(Id::parse(id.as_str()), Ok(id.clone()), "an id is another");
    }
    if let Ok(container) = ContainerId::parse(text) {
        let again = ContainerId::parse(container.as_str());
        assert_eq!(again.ok().as_ref(), Some(&container), "a container is another");
    }
    if let Some(unit) = Unit::parse(text) {
        assert_eq!(Unit::parse(unit.symbol()), Some(unit), "a unit is another");
    }
    if let Some(size) = VehicleSize::from_word(text) {
        assert_eq!(size.word(), text, "a size has another word");
    }
}

fn numbers(text: &str) {
    if let Ok(number) = cells::decimal(text) {
        let again = cells::decimal(&number.to_string());
        assert_eq!(again.ok(), Some(number), "a decimal is another");
    }
    if let Ok(ratio) = cells::ratio(text) {
        let again = cells::ratio(&ratio.water().to_string());
        assert_eq!(again.ok(), Some(ratio), "a ratio is another");
    }
    for code in ["CAD", "JPY", "KWD"] {
        let Some(currency) = Currency::parse(code) else { continue };
        let Ok((money, exact)) = cells::money(text, currency) else { continue };
        let written = money.to_decimal(currency).to_string();
        let again = cells::money(&written, currency).ok();
        assert_eq!(again, Some((money, true)), "{code} is another");
        // Money may be more than other numbers may be.
        if let Ok(number) = cells::decimal(text) {
            assert_eq!(exact, number == money.to_decimal(currency), "{code} is not exact");
        }
    }
    let _ = (cells::grams(text), cells::share(text), cells::chance(text));
    let _ = (cells::containers(text), cells::days(text), cells::days_and_parts(text));
}

fn moments(text: &str) {
    if let Ok(day) = cells::day(text) {
        assert_eq!(cells::write_day(day), text, "a day is written as another");
    }
    if let Ok(as_of) = text.parse::<AsOf>() {
        let again = as_of.to_string().parse::<AsOf>();
        assert_eq!(again.ok(), Some(as_of), "a moment to ask for is another");
    }
    let zones = [Tz::UTC, Tz::America__Halifax, Tz::America__Santiago, Tz::Australia__Lord_Howe];
    for zone in zones {
        let shop = Shop::new("Two Gulls", zone, Currency::NONE);
        let Ok(moment) = cells::time(text, &shop) else { continue };
        let again = cells::time(&cells::write_time(moment, &shop), &shop);
        assert_eq!(again.ok(), Some(moment), "a moment of {zone} is another");
        if let Ok(as_of) = text.parse::<AsOf>() {
            let _ = as_of.moment(&shop);
        }
    }
}
