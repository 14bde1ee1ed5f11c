//! Whole files, headers and rows: what is wrong with them, and what is merely odd.

#![allow(clippy::unwrap_used)]

mod common;

use capful_folder::{cells, read, read_files};
use common::{changed, problems, text, warnings, with};

/// What `QUOTES` stands for in the messages below.
const QUOTES: &str = "quotes around the whole field, and each quote inside it doubled";

#[test]
fn every_error_of_every_file_is_told_by_file_and_line() {
    let told = problems(with(&[
        ("shop.toml", "name = \"A\"\ntimezone = \"Nowhere\"\ncurrency = \"CAD\"\n"),
        ("orders.csv", "id,placed_at,supplier\nO-1,2026-01-28,east\n"),
        (
            "pours.csv",
            "id,at,product,quantity,unit\nP-1,soon,iron,many,mL\nP-1,2026-03-02,wax,1,mL\n",
        ),
    ]));
    assert_eq!(told, include_str!("every_error.txt").lines().collect::<Vec<_>>());
}

#[test]
fn one_wrong_cell_is_one_error() {
    for (from, to) in [("5000", "five"), ("Iron remover", ""), ("iron,Iron", "ir on,Iron")] {
        assert_eq!(problems(changed("products.csv", from, to)).len(), 1, "{from:?} -> {to:?}");
    }
    for (name, from, to) in [
        ("products.csv", "id,name", "name"),
        ("products.csv", "\niron,", "\n\"iron,"),
        ("receipts.csv", ",2,46", ",two,46"),
        ("receipts.csv", "R-1,", ""),
        ("mixes.csv", "apc", "wax"),
    ] {
        let told = problems(changed(name, from, to));
        assert!(told.iter().all(|problem| problem.starts_with(name)), "{told:#?}");
    }
}

#[test]
fn only_shop_toml_must_be_there() {
    let mut folder = common::folder();
    folder.retain(|name, _| name == "shop.toml");
    let reading = read_files(&folder).unwrap();
    assert_eq!(reading.warnings, []);
    assert_eq!(reading.facts.products, []);
    folder.clear();
    let expected = "shop.toml: found nothing, \
                    expected this file, with at least name, timezone and currency";
    assert_eq!(problems(read_files(&folder)), [expected]);
    folder.insert("shop.toml".to_owned(), Vec::new());
    assert_eq!(
        problems(read_files(&folder)),
        ["name", "timezone", "currency"]
            .map(|key| format!("shop.toml:1: key {key:?}: found nothing, expected this key"))
    );
}

#[test]
fn a_folder_that_is_not_there_is_told() {
    let nowhere = tempfile::tempdir().unwrap().path().join("nowhere");
    let told = problems(read(&nowhere));
    assert_eq!(told.len(), 1);
    assert!(told[0].starts_with(&format!("{}: found ", nowhere.display())), "{}", told[0]);
    assert!(told[0].ends_with(", expected a shop folder"), "{}", told[0]);
}

#[test]
fn settings_that_are_not_given_stand_at_their_defaults() {
    let least = "name = \"A\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n";
    let short = with(&[("shop.toml", least)]).unwrap().facts.shop;
    let whole = read_files(&common::folder()).unwrap().facts.shop;
    assert_eq!(short.closed_days.len(), 0);
    assert_eq!(short.stall_cost, whole.stall_cost);
    assert_eq!(short.size_factors, whole.size_factors);
    assert_eq!((short.budget, whole.budget), (None, None));
}

#[test]
fn what_is_unknown_is_a_warning_that_names_it() {
    let shop = format!("color = \"red\"\n{}6 = 2.0\n", text("shop.toml"));
    let ratios = "shelf,product,water,label,\nA,apc,5,wheels,\n";
    let told = warnings(with(&[("notes.txt", "?"), ("shop.toml", &shop), ("ratios.csv", ratios)]));
    assert_eq!(
        told,
        [
            r#"shop.toml:1: key "color": unknown key, not read"#,
            r#"shop.toml:26: key "conditions.6": unknown key, not read"#,
            r#"ratios.csv:1: column "shelf": unknown column, not read"#,
            "ratios.csv:1: unknown column without a name, not read",
            "notes.txt: unknown file, not read",
        ]
    );
}

#[test]
fn what_is_odd_is_a_warning_that_says_what_was_done() {
    let cases = [
        (
            "offers.csv",
            "46.00",
            "46.005",
            r#":2: column "price": finer than CAD is counted, read as 46.01"#,
        ),
        (
            "shop.toml",
            "150.00",
            "150.001",
            r#":8: key "stall_cost": finer than CAD is counted, read as 150.00"#,
        ),
        (
            "jobs.csv",
            "2026-02-20T09:15",
            "2026-03-02T13:31",
            r#":2: column "booked_at": a booking made after the job ended"#,
        ),
        (
            "discards.csv",
            ",,,R-1/2",
            ",,mL,R-1/2",
            r#":2: column "unit": a unit without a quantity, not read"#,
        ),
        (
            "products.csv",
            "gloves",
            "gloves;apron",
            r#":2: column "protection": "apron" is not one of the known words, kept as it is"#,
        ),
        (
            "products.csv",
            "H317",
            "irritant",
            ":2: column \"hazards\": \"irritant\" is no GHS pictogram code or H-statement, \
             kept as it is",
        ),
    ];
    for (name, from, to, warning) in cases {
        let reading = changed(name, from, to);
        assert!(reading.is_ok(), "{reading:?}");
        assert_eq!(warnings(reading), [format!("{name}{warning}")]);
    }
    for hazards in ["GHS01;GHS09;H225", "H360FD", "EUH066", "H302+H312;H300 + H310"] {
        assert_eq!(warnings(changed("products.csv", "GHS07;H317", hazards)), [""; 0], "{hazards}");
    }
}

#[test]
fn columns_come_in_any_order_and_optional_ones_may_be_missing() {
    let counts = "sealed,product,id,at\n2,iron,C-1,2026-03-04\n";
    let facts = with(&[("counts.csv", counts)]).unwrap().facts;
    assert_eq!(facts.counts[0].id.as_str(), "C-1");
    assert_eq!(facts.counts[0].sealed, Some(2));
    assert_eq!(facts.counts[0].amount, None);
}

#[test]
fn a_unit_that_is_not_given_is_the_products_own() {
    let counts = "id,at,product,quantity\nC-1,2026-03-04,apc,0.5\n";
    let facts = with(&[("counts.csv", counts)]).unwrap().facts;
    assert_eq!(facts.counts[0].amount.unwrap().to_string(), "0.5 gal");
}

#[test]
fn headers() {
    let cases = [
        ("", r#":1: found nothing, expected a header row: product,label,water"#),
        ("product,label\n", r#":1: column "water": found nothing, expected a column of this name"#),
        (
            "product,label,water,label\n",
            r#":1: column "label": found "label", expected each column once"#,
        ),
        ("product,label,a,a,a,water\n", r#":1: column "a": found "a", expected each column once"#),
        ("product,la\"bel,water\n", r#":1: found "product,la\"bel,water", expected QUOTES"#),
    ];
    for (ratios, problem) in cases {
        let expected = format!("ratios.csv{}", problem.replace("QUOTES", QUOTES));
        assert_eq!(problems(with(&[("ratios.csv", ratios)])), [expected]);
    }
}

#[test]
fn a_missing_column_keeps_no_other_cell_from_being_checked() {
    let told = problems(with(&[("ratios.csv", "product,water\nwax,5:1\n")]));
    assert_eq!(told.len(), 3, "{told:#?}");
}

#[test]
fn rows_that_break_the_format() {
    let header = "product,label,water\n";
    let cases = [
        ("apc,wheels\n", r#":2: found "2 fields", expected 3, as in the header row"#),
        ("apc\n", r#":2: found "1 field", expected 3, as in the header row"#),
        ("apc,wheels,5,\n", r#":2: found "4 fields", expected 3, as in the header row"#),
        ("apc,\"a\",5\n\napc,9\" pads,5\n", r#":4: found "apc,9\" pads,5", expected QUOTES"#),
        ("apc,\"wheels\" dirty,5\n", r#":2: found "apc,wheels dirty,5", expected QUOTES"#),
        (
            "apc,\"wheels,5\napc,heavy,3\n",
            ":2: found \"apc,wheels,5\\napc,heavy,3\\n\", \
             expected a closing quote before the end of the file",
        ),
        (
            "apc,wheels\rapc,5\n",
            r#":2: found "apc,wheels\rapc,5", expected lines that end in LF or CR LF"#,
        ),
    ];
    for (rows, problem) in cases {
        let told = problems(with(&[("ratios.csv", &format!("{header}{rows}"))]));
        let expected = format!("ratios.csv{}", problem.replace("QUOTES", QUOTES));
        assert_eq!(told, [expected], "{rows:?}");
    }
}

#[test]
fn lines_are_those_of_the_file_where_quotes_hold_line_ends_and_lines_are_empty() {
    let ratios = "product,label,water\r\napc,\"two\r\nlines\",5\r\n\r\n\r\nwax,x,5\r\n";
    let told = problems(with(&[("ratios.csv", ratios)]));
    assert_eq!(told.len(), 2);
    assert!(told[0].starts_with(r#"ratios.csv:2: column "label": found "two\r\n"#), "{}", told[0]);
    assert!(told[1].starts_with(r#"ratios.csv:6: column "product": found "wax","#), "{}", told[1]);
}

#[test]
fn a_byte_order_mark_and_carriage_returns_change_nothing() {
    let plain = read_files(&common::folder()).unwrap();
    let mut folder = common::folder();
    for bytes in folder.values_mut() {
        let text = String::from_utf8(bytes.clone()).unwrap().replace('\n', "\r\n");
        *bytes = format!("\u{feff}{text}").into_bytes();
    }
    assert_eq!(read_files(&folder).unwrap(), plain);
}

#[test]
fn bytes_that_are_not_utf_8_are_told_where_they_stand() {
    let mut folder = common::folder();
    let ratios = b"product,label,water\napc,wheels,5\napc,tr\xE8s sale,5:1\nwax,\xE8,5\n";
    folder.insert("ratios.csv".to_owned(), ratios.to_vec());
    let shop = common::text("shop.toml").replace("Gulls", "G?lls");
    let shop = shop.bytes().map(|b| if b == b'?' { 0xFC } else { b }).collect();
    folder.insert("shop.toml".to_owned(), shop);
    assert_eq!(
        problems(read_files(&folder)),
        [
            "shop.toml:1: found \"name = \\\"Two G\u{fffd}lls Detailing\\\"\", expected UTF-8 text",
            "ratios.csv:3: column \"label\": found \"tr\u{fffd}s sale\", expected UTF-8 text",
            "ratios.csv:4: column \"label\": found \"\u{fffd}\", expected UTF-8 text",
        ]
    );
}

#[test]
fn a_long_text_is_cut_where_it_is_told() {
    let long = "€".repeat(200);
    let told = problems(changed("ratios.csv", "apc,wheels", &format!("{long},wheels")));
    assert!(told[0].contains(&format!("found \"{}…\",", "€".repeat(80))), "{}", told[0]);
}

#[test]
fn containers_of_counts_and_openings_can_be_named() {
    for container in ["C-3/1", "C-3/7", "M-1"] {
        let reading = changed("pours.csv", "M-1", container);
        assert_eq!(problems(reading), [""; 0], "{container}");
    }
    assert_eq!(problems(changed("pours.csv", "R-1/1", "OP-1/1")), [""; 0]);
}

#[test]
fn texts_have_an_end_and_notes_may_have_lines() {
    let long = |letters| "é".repeat(letters);
    let told = |result: cells::Parsed<String>| match result {
        Err(cells::Wrong::Expected(what)) => what,
        other => panic!("{other:?}"),
    };
    assert_eq!(cells::text(&long(500)).unwrap(), long(500));
    assert_eq!(told(cells::text(&long(501))), "a text of at most 500 characters");
    assert!(told(cells::text("a\tb")).starts_with("a text of one line"));
    assert!(cells::notes("keep from frost\r\n\tshake\n").is_ok());
    assert_eq!(cells::notes(&long(5000)).unwrap(), long(5000));
    assert_eq!(told(cells::notes(&long(5001))), "a text of at most 5000 characters");
    assert!(told(cells::notes("a\u{0}b")).contains("but line ends and tabs"));
    assert!(told(cells::notes("a\rb")).contains("but line ends and tabs"));
}
