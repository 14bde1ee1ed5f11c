//! How things are called that have an id: jobs by their vehicles, as people speak of them, and what
//! nobody gave a name by the end of the one that it was given.

use capful_domain::Job;
use uuid::Uuid;

/// Letters of a given id that tell it from others in one shop.
const TOLD_BY: usize = 5;

/// A text in which the ids that the service gave are cut to their ends: `…0cc52/1`.
pub(crate) fn short(text: &str) -> String {
    let (mut cut, mut rest) = (String::new(), text);
    let is_given = |from: usize, rest: &str| {
        let length = uuid::fmt::Hyphenated::LENGTH;
        rest.get(from..from + length).is_some_and(|part| Uuid::try_parse(part).is_ok())
    };
    while let Some(from) = (0..rest.len()).find(|from| is_given(*from, rest)) {
        let end = from + uuid::fmt::Hyphenated::LENGTH;
        cut.extend([&rest[..from], "…", &rest[end - TOLD_BY..end]]);
        rest = &rest[end..];
    }
    cut + rest
}

/// A job by its vehicle, else by its id.
pub(crate) fn job_name(job: &Job) -> String {
    job.vehicle.clone().unwrap_or_else(|| short(job.id.as_str()))
}

/// A sentence in which a job's vehicle stands where its id stood.
pub(crate) fn with_vehicles(text: &str, jobs: &[Job]) -> String {
    // Bare words and numbers ("5 March") are never taken for ids.
    let is_named = |word: &str| {
        word.contains(|c: char| c.is_ascii_digit()) && word.contains(|c: char| !c.is_ascii_digit())
    };
    let named = |word: &str| {
        let id = word.trim_matches(|c: char| !c.is_ascii_alphanumeric());
        let job = is_named(id).then(|| jobs.iter().find(|job| job.id.as_str() == id)).flatten();
        match job.and_then(|job| job.vehicle.as_deref()) {
            Some(vehicle) => word.replacen(id, vehicle, 1),
            None => word.to_owned(),
        }
    };
    text.split(' ').map(named).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_given_id_is_told_by_its_end() {
        let given = "019cae6b-6600-7445-aa83-6d5dd5c0cc52";
        assert_eq!(short(&format!("Job {given} is booked.")), "Job …0cc52 is booked.");
        assert_eq!(short(&format!("{given}/1, {given}/2")), "…0cc52/1, …0cc52/2");
        for own in ["R-12/3", "blåbär", "019cae6b-6600-7445-aa83", ""] {
            assert_eq!(short(own), own);
        }
    }

    #[test]
    fn a_job_is_called_by_its_vehicle_and_a_day_stays_a_day() {
        let facts = capful_demo::demo_shop("2026-03-02".parse().unwrap(), 1);
        let mut jobs = facts.jobs;
        jobs.truncate(2);
        jobs[0].id = capful_domain::Id::parse("J-7").unwrap();
        jobs[0].vehicle = Some("blue estate".to_owned());
        jobs[1].id = capful_domain::Id::parse("5").unwrap();
        let said = with_vehicles("Use it on J-7, or J-70, by 5 March (J-7).", &jobs);
        assert_eq!(said, "Use it on blue estate, or J-70, by 5 March (blue estate).");
        jobs[0].vehicle = None;
        assert_eq!(with_vehicles("Use it on J-7.", &jobs), "Use it on J-7.");
    }
}
