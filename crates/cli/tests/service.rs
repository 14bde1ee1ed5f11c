//! The program as a service: started, asked, stopped, and fed from a folder.

#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use common::{Place, Service, Within, capful, ends_within};
use serde_json::Value;

#[test]
fn it_starts_answers_health_and_refuses_whoever_has_no_token() {
    let place = Place::with_demo();
    let service = place.serve();
    assert_eq!(service.get("healthz", None).0, 200);
    assert_eq!(service.get("readyz", None).0, 200);
    for path in ["api/v1/plan", "api/v1/jobs", "api/docs", "metrics"] {
        let (status, body) = service.get(path, None);
        assert_eq!(status, 401, "{path}: {body}");
        let problem: Value = serde_json::from_str(&body).unwrap();
        assert_eq!(problem["status"], 401, "{path}");
    }
    assert_eq!(service.get("api/v1/plan", Some("capful_nonsense")).0, 401);
    assert_eq!(service.get("api/v1/jobs", Some(&place.token("read"))).0, 200);
}

#[test]
fn the_plan_of_the_service_is_the_plan_of_the_folder_byte_for_byte() {
    let place = Place::with_demo();
    let service = place.serve();
    let token = place.token("read");
    for as_of in ["2026-03-04", "2025-11-03T14:30"] {
        let folder = place.run(&["plan", "shop", "--as-of", as_of, "--json"]);
        let args = ["plan", "--server", &service.url, "--token", &token, "--as-of", as_of];
        let remote = place.run(&[&args[..], &["--json"]].concat());
        assert_eq!((folder.code, remote.code), (0, 0), "{:?} {:?}", folder.err, remote.err);
        assert_eq!(folder.out, remote.out, "as of {as_of}");
        let drawn = place.run(&args);
        assert_eq!(drawn.err, Vec::<String>::new());
        assert_eq!(drawn.out, place.run(&["plan", "shop", "--as-of", as_of]).out);
    }
}

#[test]
fn what_is_imported_is_exported() {
    let place = Place::with_demo();
    let said = place.run(&["export", "out"]);
    assert_eq!(said.code, 0, "{:?}", said.err);
    same_files(&place.path("shop"), &place.path("out"));
    let again = place.run(&["import", "out"]);
    assert_eq!(again.out, "Nothing is new: every row was there already.\n");
    let refused = place.run(&["export", "out"]);
    assert_eq!((refused.code, refused.err.len()), (1, 1), "{:?}", refused.err);
    assert_eq!(place.run(&["export", "out", "--force"]).code, 0);
}

#[test]
fn a_running_service_takes_a_folder_over_and_writes_it_out() {
    let place = Place::with_demo();
    let row = "J-late,2026-03-03T09:00,2026-03-09,booked,,medium,3\r\n";
    let service = place.serve();
    let token = place.token("setup");
    let server = ["--server", service.url.as_str(), "--token", token.as_str()];
    let with = |args: &[&str]| place.run(&[args, &server].concat());
    assert_eq!(with(&["import", "shop"]).out, "Nothing is new: every row was there already.\n");
    let jobs = place.path("shop").join("jobs.csv");
    let text = fs::read_to_string(&jobs).unwrap();
    let head: Vec<&str> = text.lines().next().unwrap().split(',').collect();
    let kind = text.lines().nth(1).unwrap().split(',').nth(4).unwrap();
    assert_eq!(head[..7].join(","), "id,booked_at,planned_on,status,job_types,size,condition");
    let row = row.replace(",booked,,", &format!(",booked,{kind},"));
    let rest = ",".repeat(head.len() - 7);
    fs::write(&jobs, format!("{text}{}{rest}\r\n", row.trim_end())).unwrap();
    let added = with(&["import", "shop"]);
    assert_eq!(added.code, 0, "{:?}", added.err);
    assert!(added.out.starts_with("Took over 1 row.\n  jobs.csv"), "{}", added.out);
    assert_eq!(with(&["export", "out"]).code, 0);
    same_files(&place.path("shop"), &place.path("out"));
    fs::write(&jobs, text.replacen(",medium,", ",large,", 1)).unwrap();
    let refused = with(&["import", "shop"]);
    assert_eq!((refused.code, refused.out.as_str()), (1, ""));
    assert!(refused.err.iter().any(|line| line.contains("jobs.csv")), "{:?}", refused.err);
    let check = place.run(&["check"]);
    assert_eq!(check.code, 0, "{:?}", check.err);
}

#[test]
fn a_folder_with_what_comes_to_nothing_is_not_taken_over() {
    let place = Place::with_demo();
    let pours = place.path("shop").join("pours.csv");
    let text = fs::read_to_string(&pours).unwrap();
    let row = text.lines().nth(1).unwrap();
    let cells: Vec<&str> = row.split(',').collect();
    let odd = format!("odd,{},iron-remover,0.0000001,L", cells[1]);
    let rest = ",".repeat(cells.len() - 5);
    fs::write(&pours, format!("{text}{odd}{rest}\r\n")).unwrap();
    let refused = place.run(&["import", "shop"]);
    assert_eq!((refused.code, refused.out.as_str()), (1, ""));
    let told = |line: &String| line.contains("found \"0.0000001\", expected at least");
    assert!(refused.err.iter().any(told), "{:?}", refused.err);
}

#[test]
fn the_public_address_is_said_at_the_start_and_held_to_be_one() {
    let place = Place::empty();
    fs::write(place.path("capful.toml"), "public_url = \"https://Shelf.example:443/\"\n").unwrap();
    let service = place.serve();
    assert_eq!(service.get("healthz", None).0, 200);
    let said = service.first_words();
    assert!(said.contains("Browsers reach it at https://shelf.example\n"), "{said}");
    assert!(said.contains(" at https://shelf.example/welcome?code="), "{said}");
    for wrong in ["shelf.example", "https://shelf.example/shop"] {
        let refused = place.run_in(&[("CAPFUL_PUBLIC_URL", wrong)], &["serve"]);
        assert_eq!((refused.code, refused.out.as_str()), (1, ""));
        let told = |line: &String| {
            line.contains("public_url: found") && line.contains("expected an address such as")
        };
        assert!(refused.err.iter().any(told), "{:?}", refused.err);
    }
}

/// Every file of one folder stands in the other; the mark on the demo's settings aside.
fn same_files(one: &Path, other: &Path) {
    let text = |path: &Path| {
        let text = fs::read_to_string(path).unwrap();
        text.lines().filter(|line| !line.starts_with("# ")).map(|l| format!("{l}\n")).collect()
    };
    let mut files = 0;
    for entry in fs::read_dir(one).unwrap() {
        let name = entry.unwrap().file_name();
        let (first, second): (String, String) = (text(&one.join(&name)), text(&other.join(&name)));
        assert_eq!(first, second, "{name:?}");
        files += 1;
    }
    assert_eq!(files, 16);
}

#[test]
fn a_service_that_is_not_there_or_says_no_is_told_on_a_line() {
    let place = Place::with_demo();
    let nobody = place.run(&["plan", "--server", "http://127.0.0.1:9", "--json"]);
    assert_eq!((nobody.code, nobody.err.len()), (1, 1), "{:?}", nobody.err);
    assert!(nobody.err[0].starts_with("error: http://127.0.0.1:9/ does not answer"));
    let service = place.serve();
    let stranger = place.run(&["plan", "--server", &service.url, "--json"]);
    assert_eq!(stranger.code, 1);
    assert!(stranger.err.iter().any(|line| line.contains("CAPFUL_TOKEN")), "{:?}", stranger.err);
    let reader = place.token("read");
    let refused = place.run(&["import", "shop", "--server", &service.url, "--token", &reader]);
    assert_eq!((refused.code, refused.out.as_str()), (1, ""));
}

#[test]
fn people_are_added_listed_and_given_passwords() {
    let place = Place::with_demo();
    assert!(place.run(&["person", "list"]).out.contains("person add"));
    let add = ["person", "add", "ada", "--name", "Ada Wren", "--role", "owner"];
    let short = place.run_told("short\n", &add);
    assert_eq!((short.code, short.err.len()), (1, 1), "{:?}", short.err);
    assert!(short.err[0].contains("at least 10 characters"), "{:?}", short.err);
    let added = place.run_told("nine lives of a towel\n", &add);
    assert_eq!(added.code, 0, "{:?}", added.err);
    assert_eq!(added.out, "Ada Wren signs in as ada, and is an owner.\n");
    let twice = place.run_told("nine lives of a towel\n", &add);
    assert_eq!(twice.code, 1);
    let listed = place.run(&["person", "list", "--json"]).out;
    assert!(listed.contains("Ada Wren") && !listed.contains("argon2"), "{listed}");
    let other = place.run_told("ten lives of a sponge\n", &["person", "password", "ADA"]);
    assert_eq!(other.code, 0, "{:?}", other.err);
    let nobody = place.run_told("ten lives of a sponge\n", &["person", "password", "bo"]);
    assert_eq!(nobody.err, ["error: there is no person `bo`"]);
}

#[test]
fn a_token_is_shown_once_listed_and_revoked() {
    let place = Place::with_demo();
    let service = place.serve();
    let made = place.run(&["token", "create", "--scope", "read", "--label", "till", "--days", "2"]);
    let token = made.out.trim().to_owned();
    assert_eq!((made.code, made.out.lines().count()), (0, 1));
    assert_eq!(service.get("api/v1/jobs", Some(&token)).0, 200);
    let listed = place.run(&["token", "list", "--json"]).out;
    assert!(!listed.contains(&token), "a token is seen again");
    let listed: Value = serde_json::from_str(&listed).unwrap();
    let (id, label) = (listed[0]["id"].as_str().unwrap(), &listed[0]["label"]);
    assert_eq!((label.as_str(), listed[0]["good"].as_bool()), (Some("till"), Some(true)));
    assert!(place.run(&["token", "list"]).out.contains(id));
    assert_eq!(place.run(&["token", "revoke", id]).code, 0);
    assert_eq!(service.get("api/v1/jobs", Some(&token)).0, 401);
    assert!(place.run(&["token", "list"]).out.contains("revoked"));
    assert_eq!(place.run(&["token", "revoke", "no-such-token"]).code, 1);
    assert_eq!(place.run(&["token", "create", "--scope", "owner"]).code, 2);
}

#[test]
fn a_fresh_database_says_what_to_do_first() {
    let place = Place::empty();
    let service = place.serve();
    let said = service.first_words();
    assert!(said.contains("import FOLDER") && said.contains("token create"), "{said}");
    assert_eq!(service.get("healthz", None).0, 200);
    let early = place.run(&["token", "create", "--scope", "read"]);
    assert_eq!((early.code, early.out.as_str(), early.err.len()), (1, "", 1));
    drop(service);
    let nowhere = place.run(&["check", "--database", "sqlite://nowhere.db"]);
    assert_eq!((nowhere.code, nowhere.err.len()), (1, 1), "{:?}", nowhere.err);
    assert!(!place.path("nowhere.db").exists());
}

#[cfg(unix)]
#[test]
fn asked_to_stop_it_stops_well_within_its_deadline() {
    let place = Place::with_demo();
    let mut service = place.serve();
    assert_eq!(service.get("healthz", None).0, 200);
    service.signal("TERM");
    assert_eq!(ends_within(&mut service.child, Duration::from_secs(10)), Within::Ended(Some(0)));
}

#[cfg(unix)]
#[test]
fn a_second_signal_stops_it_at_once() {
    use std::io::Write;
    let place = Place::with_demo();
    let mut service = place.serve();
    // A request that never ends keeps it from stopping by itself.
    let mut slow = std::net::TcpStream::connect(service.address()).unwrap();
    slow.write_all(b"POST /api/v1/jobs HTTP/1.1\r\nhost: x\r\ncontent-le").unwrap();
    // Whoever came later was answered: that one is not overlooked.
    assert_eq!(service.get("healthz", None).0, 200);
    service.signal("INT");
    // Nobody is let in from when the first signal was heard.
    let begun = Instant::now();
    while std::net::TcpStream::connect(service.address()).is_ok() {
        assert!(begun.elapsed() < Duration::from_secs(30), "it listens on");
    }
    service.signal("INT");
    assert_eq!(ends_within(&mut service.child, Duration::from_secs(5)), Within::Ended(Some(0)));
}

#[test]
fn flags_go_before_the_environment_and_that_before_the_file() {
    let place = Place::with_demo();
    fs::write(place.path("capful.toml"), "seed = 5\nfutures = 60\n").unwrap();
    let seed = |env: &[(&str, &str)], args: &[&str]| {
        let all = [&["plan", "shop", "--as-of", "2026-03-04", "--json"], args].concat();
        let said = place.run_in(env, &all);
        assert_eq!(said.code, 0, "{:?}", said.err);
        serde_json::from_str::<Value>(&said.out).unwrap()["seed"].as_u64().unwrap()
    };
    assert_eq!(seed(&[], &[]), 5);
    assert_eq!(seed(&[("CAPFUL_SEED", "6")], &[]), 6);
    assert_eq!(seed(&[("CAPFUL_SEED", "6")], &["--seed", "7"]), 7);
    fs::write(place.path("other.toml"), "seed = 8\n").unwrap();
    assert_eq!(seed(&[], &["--config", "other.toml"]), 8);
    assert_eq!(seed(&[("CAPFUL_CONFIG", "other.toml")], &[]), 8);
    assert_eq!(place.run(&["plan", "shop", "--config", "none.toml"]).code, 1);
}

#[test]
fn what_is_no_setting_is_refused_with_its_place() {
    let place = Place::with_demo();
    fs::write(place.path("capful.toml"), "seed = 1\nlisten_on = \"x\"\n").unwrap();
    let said = place.run_in(&[("CAPFUL_COLOUR", "red")], &["check"]);
    assert_eq!((said.code, said.out.as_str(), said.err.len()), (1, "", 2), "{:?}", said.err);
    let told = |start: &str| said.err.iter().any(|line| line.starts_with(start));
    assert!(told("error: capful.toml:2: found \"listen_on\", expected one of"), "{:?}", said.err);
    assert!(told("error: CAPFUL_COLOUR: found \"colour\""), "{:?}", said.err);
    fs::write(place.path("capful.toml"), "\nseed = \"one\"\n").unwrap();
    let said = place.run(&["check"]);
    assert_eq!((said.code, said.err.len()), (1, 1));
    assert!(said.err[0].starts_with("error: capful.toml:2: seed: "), "{:?}", said.err);
}

#[test]
fn an_address_that_is_taken_is_told() {
    let place = Place::with_demo();
    let service = place.serve();
    let taken = place.run(&["serve", "--listen", &service.address()]);
    assert_eq!((taken.code, taken.out.as_str()), (1, ""));
    assert!(taken.err.iter().any(|line| line.contains("--listen names another")));
}

#[test]
fn the_demo_serves_the_shop_that_it_wrote() {
    let place = Place::empty();
    let service = Service::start(&place, &["demo", "shop", "--listen", "127.0.0.1:0"]);
    let said = service.first_words();
    let word = said.split_whitespace().find_map(|word| word.strip_prefix("CAPFUL_TOKEN="));
    let (status, plan) = service.get("api/v1/plan", word);
    assert_eq!(status, 200, "{plan}");
    assert!(plan.starts_with("{\n  \"shop\": \"Two Gulls Detailing\""));
    let database = said.split_whitespace().find(|word| word.starts_with("sqlite://")).unwrap();
    let check = capful(&["check", "--database", database]);
    assert_eq!(check.code, 0, "{:?}", check.err);
}

#[test]
fn a_file_that_cannot_be_read_is_told_on_one_line() {
    let place = Place::with_demo();
    fs::write(place.path("capful.toml"), "seed = 1\nlisten = \"127.0.0.1\n").unwrap();
    let slip = place.run(&["check"]);
    assert_eq!((slip.code, slip.err.len()), (1, 1), "{:?}", slip.err);
    assert!(slip.err[0].starts_with("error: capful.toml:2: "), "{:?}", slip.err);
    let missing = place.run(&["check", "--config", "none.toml"]);
    assert_eq!((missing.code, missing.err.len()), (1, 1), "{:?}", missing.err);
    assert!(missing.err[0].starts_with("error: none.toml: "), "{:?}", missing.err);
    fs::write(place.path("capful.toml"), "\nfutures = 20001\n").unwrap();
    let many = place.run(&["check"]);
    let line = "error: capful.toml:2: futures: found 20001, expected from 50 to 20000";
    assert_eq!((many.code, many.err), (1, vec![line.to_owned()]));
}

#[test]
fn the_demo_is_set_like_everything_else() {
    let place = Place::empty();
    fs::write(place.path("other.toml"), "futures = 1\n").unwrap();
    let said = place.run_in(&[("CAPFUL_CONFIG", "other.toml")], &["demo", "shop", "--no-serve"]);
    assert_eq!((said.code, said.err.len()), (1, 1), "{:?}", said.err);
    assert!(said.err[0].starts_with("error: other.toml:1: futures: found 1"), "{:?}", said.err);
}

#[test]
fn a_shop_is_in_a_database_or_behind_a_service() {
    let place = Place::empty();
    for command in ["import", "export"] {
        let both = ["--server", "http://127.0.0.1:9", "--database", "sqlite://shop.db"];
        assert_eq!(place.run(&[&[command, "shop"][..], &both].concat()).code, 2, "{command}");
    }
}

#[test]
fn no_database_is_made_where_the_address_is_taken() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let place = Place::empty();
    let address = taken.local_addr().unwrap().to_string();
    assert_eq!(place.run(&["serve", "--listen", &address]).code, 1);
    assert!(!place.path("capful.db").exists());
}

#[test]
fn found_stock_that_was_reversed_is_found_no_more() {
    let place = Place::with_demo();
    let surplus = |place: &Place| {
        let shelf: Value = serde_json::from_str(&place.run(&["check", "--json"]).out).unwrap();
        let products = shelf["products"].as_array().unwrap().clone();
        let own = products.into_iter().find(|product| product["product"] == "snow-foam").unwrap();
        own["found_stock"]["surplus"]["amount"].as_f64().unwrap_or_default()
    };
    let before = surplus(&place);
    let service = place.serve();
    let token = place.token("shelf");
    let pour = r#"{"id": "P-slip", "product": "snow-foam", "quantity": 900, "unit": "L"}"#;
    let poured = service.post("api/v1/pours", &token, pour);
    assert!(surplus(&place) > before + 1000.0);
    let poured: Value = serde_json::from_str(&poured).unwrap();
    let path =
        format!("api/v1/movements/{}/reverse", poured["movements"][0]["id"].as_str().unwrap());
    service.post(&path, &token, "null");
    assert_eq!(surplus(&place), before);
}
