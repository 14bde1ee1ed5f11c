//! Numbers: units, ratios and money, held against what standards say.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::catalog::WrongMeasure;
use capful_domain::{Currency, Dimension, Money, Product, Quantity, Ratio, Unit, Word};
use proptest::prelude::*;
use rust_decimal::Decimal;
use support::{TestShop, amount, dec, id, ratio};

fn ledger_units(text: &str) -> i64 {
    let amount = amount(text);
    Quantity::from_unit(amount.number, amount.unit).unwrap().ledger_units()
}

/// NIST Handbook 44, appendix C: US gallon 231 in³, US fl oz its 128th part, pound 453.59237 g
/// exactly; an inch is 25.4 mm exactly.
#[test]
fn nist_handbook_44_appendix_c() {
    let cubic_inch_ul = dec("25.4") * dec("25.4") * dec("25.4");
    assert_eq!(Unit::Gal.ledger_units(), dec("231") * cubic_inch_ul);
    assert_eq!(Unit::FlOz.ledger_units() * dec("128"), Unit::Gal.ledger_units());
    assert_eq!(Unit::Pt.ledger_units() * dec("8"), Unit::Gal.ledger_units());
    assert_eq!(Unit::Qt.ledger_units() * dec("4"), Unit::Gal.ledger_units());
    assert_eq!(Unit::Lb.ledger_units(), dec("453592.37"));
    assert_eq!(Unit::Oz.ledger_units() * dec("16"), Unit::Lb.ledger_units());
    assert_eq!(Unit::Ft.ledger_units(), dec("12") * dec("25400"));
    assert_eq!(ledger_units("1 gal"), 3_785_412);
    assert_eq!(ledger_units("1 lb"), 453_592);
}

/// Common practice: a 4 fl oz bottle is sold as 118.29 mL; six drops of polish are 0.3 mL.
#[test]
fn common_practice_bottles_and_drops() {
    let bottle = Quantity::from_ledger_units(ledger_units("4 fl oz"));
    assert_eq!(bottle.in_unit(Unit::Ml).round_dp(2), dec("118.29"));
    assert_eq!(6 * ledger_units("0.05 mL"), ledger_units("0.3 mL"));
}

#[test]
fn each_unit_has_its_own_symbol_and_measures_one_thing() {
    for unit in Unit::ALL {
        assert_eq!(Unit::parse(unit.symbol()), Some(unit));
    }
    assert_eq!(Unit::parse("ml"), None);
    let of = |d| Unit::ALL.iter().filter(|u| u.dimension() == d).count();
    let counts = [Dimension::Volume, Dimension::Mass, Dimension::Length, Dimension::Piece].map(of);
    assert_eq!(counts, [6, 4, 2, 1]);
}

/// The ledger can hold about 9.2 billion litres; what is more is told, not wrapped.
#[test]
fn a_number_too_large_is_told() {
    assert!(Quantity::from_unit(dec("9200000000"), Unit::L).is_ok());
    assert!(Quantity::from_unit(dec("9300000000000"), Unit::L).is_err());
    assert!(Quantity::from_unit(Decimal::MAX, Unit::Gal).is_err());
    assert!(Quantity::from_unit(Decimal::MIN, Unit::Gal).is_err());
    let most = Quantity::from_ledger_units(i64::MAX);
    assert_eq!((most + most).ledger_units(), i64::MAX);
    let least = Quantity::from_ledger_units(i64::MIN);
    assert_eq!((-least, least.abs()), (most, most));
    assert_eq!(least.share(3, 1).ledger_units(), i64::MIN);
    assert_eq!(most.share(3, 1).ledger_units(), i64::MAX);
}

/// A number above nothing is never taken for nothing: the least that can be written is told.
#[test]
fn a_number_too_small_is_told() {
    let product = |unit: &str, density: Option<&str>| {
        let size = amount(&format!("1000 {unit}"));
        let density_g_ml = density.map(dec);
        Product { density_g_ml, ..Product::new(id("x"), "x", size) }
    };
    let least = |product: &Product, text: &str, water: &str| {
        let told = product.quantity_in_mix(amount(text), ratio(water));
        let Err(wrong @ WrongMeasure::TooSmall { least }) = told else {
            panic!("{text}: {told:?}")
        };
        let held = product.quantity_in_mix(least, ratio(water)).unwrap();
        assert!(held > Quantity::ZERO, "{text}: {least}");
        wrong.to_string()
    };
    let (soap, thick) = (product("mL", None), product("mL", Some("2")));
    assert_eq!(least(&soap, "0.0001 mL", "0:1"), "at least 0.001 mL");
    assert_eq!(least(&soap, "0.0000001 L", "0:1"), "at least 0.000001 L");
    assert_eq!(least(&soap, "0.000001 fl oz", "0:1"), "at least 0.0001 fl oz");
    assert_eq!(least(&soap, "0.004 mL", "10:1"), "at least 0.011 mL");
    assert_eq!(least(&thick, "0.0009 g", "0:1"), "at least 0.002 g");
    assert_eq!(least(&product("each", None), "0.0004 each", "0:1"), "at least 0.001 each");
    assert_eq!(soap.quantity(amount("0 mL")), Ok(Quantity::ZERO));
    assert_eq!(soap.quantity(amount("0.0005 mL")), Ok(Quantity::from_ledger_units(1)));
    // What stands in the books is read as it was.
    assert_eq!(soap.booked_quantity(amount("0.0001 mL")), Ok(Quantity::ZERO));
}

#[test]
fn halves_are_rounded_away_from_nothing() {
    assert_eq!(ledger_units("0.0005 mL"), 1);
    assert_eq!(ledger_units("-0.0005 mL"), -1);
    assert_eq!(ledger_units("0.0004 mL"), 0);
    let quantity = |n| Quantity::from_ledger_units(n);
    assert_eq!(quantity(3).share(1, 2), quantity(2));
    assert_eq!(quantity(-3).share(1, 2), quantity(-2));
    assert_eq!(quantity(3).share(1, 0), Quantity::ZERO);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// With as many decimals as the ledger can tell apart, a number comes back as it was written.
    #[test]
    fn there_and_back_gives_the_same_number(
        unit in 0..13_usize,
        digits in -2_000_000_000_i64..2_000_000_000,
    ) {
        let unit = Unit::ALL[unit];
        let number = Decimal::new(digits, unit.decimals());
        let quantity = Quantity::from_unit(number, unit).unwrap();
        prop_assert_eq!(quantity.in_unit(unit), number.normalize());
    }

    /// What the ledger holds is shown so that it can be read again: no unit loses more than half
    /// of the last decimal that it shows.
    #[test]
    fn what_is_shown_is_near_what_is_held(
        unit in 0..13_usize,
        held in -3_000_000_000_i64..3_000_000_000,
    ) {
        let unit = Unit::ALL[unit];
        let quantity = Quantity::from_ledger_units(held);
        let shown = quantity.in_unit(unit);
        let off = (shown * unit.ledger_units() - Decimal::from(held)).abs();
        let last_decimal = unit.ledger_units() / Decimal::from(10_i64.pow(unit.decimals()));
        prop_assert!(off * dec("2") <= last_decimal);
        let again = Quantity::from_unit(shown, unit).unwrap();
        prop_assert_eq!(again.in_unit(unit), shown);
    }

    /// A mix holds the product that went into it, to the nearest ledger unit.
    #[test]
    fn a_mix_holds_what_went_in(thousandths in 0..=10_000_000_i64, product in 0..50_000_000_i64) {
        let ratio = Ratio::from_water(Decimal::new(thousandths, 3)).unwrap();
        let product = Quantity::from_ledger_units(product);
        prop_assert_eq!(ratio.product_in(ratio.mix_of(product)), product);
        prop_assert_eq!(Ratio::from_water(ratio.water()).unwrap(), ratio);
    }
}

/// Common practice: 5:1 is five parts water to one part product, one part in six.
#[test]
fn five_to_one_is_one_part_in_six() {
    let mix = Quantity::from_ledger_units(ledger_units("600 mL"));
    assert_eq!(ratio("5:1").product_in(mix).ledger_units(), ledger_units("100 mL"));
    assert_eq!(ratio("5:1").mix_of(ratio("5:1").product_in(mix)), mix);
    assert_eq!(ratio("2.5:1").product_in(mix).ledger_units(), 171_429);
    assert_eq!(Ratio::NEAT.product_in(mix), mix);
    assert_eq!(ratio("2.5:1").to_string(), "2.5:1");
}

#[test]
fn a_ratio_is_from_nothing_to_ten_thousand() {
    for good in ["0", "-0", "0.001", "5", "5.000000", "10000"] {
        assert!(Ratio::from_water(dec(good)).is_ok(), "{good}");
    }
    for bad in ["-0.001", "-1", "0.0001", "10000.001", "79228162514264337593543950335"] {
        assert!(Ratio::from_water(dec(bad)).is_err(), "{bad}");
    }
}

/// A product sold by volume that somebody weighs, and one sold by weight that somebody pours.
#[test]
fn weight_and_volume_meet_by_density() {
    let mut shop = TestShop::new();
    let soap = shop.product("soap", "1 L");
    soap.density_g_ml = Some(dec("1.25"));
    soap.tare_g = Some(dec("80"));
    assert_eq!(soap.quantity(amount("250 g")).unwrap().ledger_units(), ledger_units("200 mL"));
    let weighed = |gross, containers| soap.quantity_of_gross(dec(gross), containers).unwrap();
    assert_eq!(weighed("330", 1).ledger_units(), ledger_units("200 mL"));
    assert_eq!(weighed("410", 2).ledger_units(), ledger_units("200 mL"));
    assert_eq!(weighed("79", 1), Quantity::ZERO);
    assert!(soap.quantity_of_gross(Decimal::MIN, 3).is_err());
    let wrong = soap.quantity(amount("3 m")).unwrap_err();
    assert_eq!(wrong, WrongMeasure::Dimension { expected: Unit::L });
    let clay = shop.product("clay", "100 g");
    clay.density_g_ml = Some(dec("1.5"));
    assert_eq!(clay.quantity(amount("10 mL")).unwrap().ledger_units(), ledger_units("15 g"));
    let none = shop.product("nothing", "1 L");
    none.density_g_ml = Some(Decimal::ZERO);
    assert!(none.quantity(amount("1 g")).is_err());
    let towel = shop.product("towel", "1 each");
    assert!(towel.quantity_of_gross(dec("100"), 1).is_err());
}

/// ISO 4217: the yen has no minor unit, the Kuwaiti dinar three decimals.
#[test]
fn iso_4217_minor_units() {
    let read = |number, code| {
        let currency = Currency::parse(code).unwrap();
        let money = Money::from_decimal(dec(number), currency).unwrap();
        (money.minor(), money.to_decimal(currency).to_string())
    };
    assert_eq!(read("46", "CAD"), (4600, "46.00".into()));
    assert_eq!(read("1200.4", "JPY"), (1200, "1200".into()));
    assert_eq!(read("1200.5", "JPY"), (1201, "1201".into()));
    assert_eq!(read("1.2345", "KWD"), (1235, "1.235".into()));
    assert_eq!(read("-0.005", "EUR"), (-1, "-0.01".into()));
    assert!(Currency::parse("cad").is_none());
    assert!(Currency::parse("XQQ").is_none());
    assert!(Money::from_decimal(Decimal::MAX, Currency::parse("KWD").unwrap()).is_none());
}

#[test]
fn money_is_shared_out_by_quantity() {
    let quantity = |n| Quantity::from_ledger_units(n);
    let bottle = Money::from_minor(1999);
    assert_eq!(bottle.for_quantity(quantity(500), quantity(1000)), Money::from_minor(1000));
    assert_eq!(bottle.for_quantity(quantity(500), Quantity::ZERO), Money::ZERO);
    assert_eq!(bottle.times(3), Money::from_minor(5997));
}

#[test]
fn words_are_read_as_they_are_written() {
    fn both_ways<W: Word + std::fmt::Debug>() {
        for (word, value) in W::WORDS {
            assert_eq!(W::from_word(word), Some(*value));
            assert_eq!(value.word(), *word);
        }
        assert_eq!(W::from_word("Other"), None);
    }
    both_ways::<capful_domain::Form>();
    both_ways::<capful_domain::JobStatus>();
    both_ways::<capful_domain::VehicleSize>();
    both_ways::<capful_domain::UnitSystem>();
    both_ways::<capful_domain::facts::Method>();
    both_ways::<capful_domain::facts::DiscardReason>();
    both_ways::<capful_domain::facts::OrderStatus>();
    both_ways::<chrono::Weekday>();
}
