//! Jobs in sentences that a plan wrote: by their vehicles, as people speak of them.

use capful_domain::Job;

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
