//! `capful erase`: the jobs that name a vehicle are shown first, and then name it no more.

#![allow(clippy::unwrap_used)]

mod common;

use std::fs;

use common::Place;

const FILES: [(&str, &str); 3] = [
    ("shop.toml", "name = \"Two Gulls\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n"),
    ("job_types.csv", "id,name\nwash,Wash\n"),
    (
        "jobs.csv",
        "id,booked_at,planned_on,status,job_types,size,condition,vehicle\n\
         J-1,2026-03-01,2026-03-05,booked,wash,medium,3,Grey estate GULL 404\n\
         J-2,2026-03-01,2026-03-06,booked,wash,medium,3,grey ESTATE gull 404\n\
         J-3,2026-03-01,2026-03-07,booked,wash,medium,3,Blue van\n",
    ),
];

fn place() -> Place {
    let place = Place::empty();
    fs::create_dir(place.path("folder")).unwrap();
    for (name, text) in FILES {
        fs::write(place.path("folder").join(name), text).unwrap();
    }
    assert_eq!(place.run(&["import", "folder"]).code, 0);
    place
}

fn jobs(place: &Place) -> String {
    assert_eq!(place.run(&["export", "out", "--force"]).code, 0);
    fs::read_to_string(place.path("out").join("jobs.csv")).unwrap()
}

#[test]
fn the_jobs_are_shown_first_and_nothing_is_changed() {
    let place = place();
    let before = jobs(&place);
    let said = place.run(&["erase", "--vehicle", "GREY estate GULL 404"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    assert!(said.out.starts_with("2 jobs name this vehicle:\n  J-1 "), "{}", said.out);
    assert!(said.out.contains("Nothing was changed."), "{}", said.out);
    assert_eq!(jobs(&place), before);
}

#[test]
fn then_they_name_it_no_more() {
    let place = place();
    let erase = ["erase", "--vehicle", "GREY estate GULL 404", "--yes"];
    let said = place.run(&erase);
    assert_eq!(said.code, 0, "{:?}", said.err);
    assert!(said.out.starts_with("Erased the words in 2 jobs,"), "{}", said.out);
    let jobs = jobs(&place);
    assert!(!jobs.to_lowercase().contains("gull 404") && jobs.contains("Blue van"), "{jobs}");
    assert!(jobs.contains("J-1,") && jobs.contains("J-2,"), "{jobs}");
    // A second time the answer is no: the words stand nowhere.
    let again = place.run(&erase);
    assert_eq!(again.code, 1);
    assert!(again.out.starts_with("These words stand nowhere"), "{}", again.out);
    assert_eq!(place.run(&["check"]).code, 0);
}
