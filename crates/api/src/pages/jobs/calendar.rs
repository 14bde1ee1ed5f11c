//! The calendar: a week's jobs, each with whether the shelf carries it.

use std::sync::Arc;

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::response::Response;
use capful_domain::{Job, JobStatus};
use capful_forecast::Plan;
use chrono::{Datelike, Days, NaiveDate};

use super::{every, shape, status, what};
use crate::api::Api;
use crate::known::{Known, known};
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place};
use crate::pages::names::job_name;
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::today::carries;
use crate::pages::visitor::Visitor;
use crate::params::WhichPlan;
use crate::plans;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "jobs.html")]
struct JobsPage {
    frame: Frame,
    week: String,
    before: NaiveDate,
    next: NaiveDate,
    is_this_week: bool,
    days: Vec<Day>,
}

/// A day of the week.
struct Day {
    date: NaiveDate,
    name: String,
    is_today: bool,
    is_open: bool,
    /// Whether one can still be booked on it.
    is_ahead: bool,
    jobs: Vec<DayJob>,
}

/// A job, as a day lists it.
struct DayJob {
    id: String,
    name: String,
    what: String,
    shape: String,
    status: String,
    /// Whether the shelf carries it, drawn and in words, for as long as it is to be done.
    chance: String,
    carries: String,
    is_over: bool,
}

/// `GET /jobs?week=DAY`, and `?all=PAGE` of every job.
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    RawQuery(query): RawQuery,
) -> Result<Response, Problem> {
    let asked = Fields::read(query.unwrap_or_default().as_bytes());
    if asked.text("all").is_some() || asked.text("vehicle").is_some() {
        return every::shown(&api, &visitor, asked).await;
    }
    let known = known(&api, &visitor.caller).await?;
    let today = known.shop.day_of(api.now());
    let day = asked.text("week").map_or(Ok(today), |text| text.parse()).map_err(|_| {
        let found = asked.shown("week");
        Problem::query("week", format!("found {found:?}, expected a day such as {today}"))
    })?;
    let monday = day - Days::new(day.weekday().num_days_from_monday().into());
    let next = monday + Days::new(7);
    let jobs = api.store.jobs_between(visitor.caller.shop, monday, next).await?;
    let jobs: Vec<Job> = jobs.into_iter().map(|listed| listed.row).collect();
    let is_open = |job: &Job| matches!(job.status, JobStatus::Booked | JobStatus::Started);
    let plan = match jobs.iter().any(is_open) {
        true => Some(plans::planned(&api, &visitor.caller, WhichPlan::default()).await?),
        false => None,
    };
    let days = (0..7).map(|days| monday + Days::new(days));
    let of_day = |date| Day::of(date, today, &jobs, &known, plan.as_ref());
    let title = words().say("jobs-title");
    page(&JobsPage {
        frame: Frame::of(&api, &visitor, Place::Jobs, title, format!("/jobs?week={monday}"))
            .await?,
        week: week_name(monday),
        before: monday - Days::new(7),
        next,
        is_this_week: (monday..next).contains(&today),
        days: days.map(of_day).collect(),
    })
}

/// A week by its days and its number (ISO 8601).
fn week_name(monday: NaiveDate) -> String {
    let sunday = monday + Days::new(6);
    let from = match monday.month() == sunday.month() {
        true => monday.format("%-d"),
        false => monday.format("%-d %B"),
    };
    words()
        .say("jobs-week")
        .with("from", from)
        .with("to", sunday.format("%-d %B"))
        .with("number", monday.iso_week().week())
        .to_string()
}

impl Day {
    fn of(
        date: NaiveDate,
        today: NaiveDate,
        jobs: &[Job],
        known: &Known,
        plan: Option<&Arc<Plan>>,
    ) -> Self {
        let own = jobs.iter().filter(|job| job.planned_on == date);
        Self {
            date,
            name: date.format("%A %-d").to_string(),
            is_today: date == today,
            is_open: known.shop.is_open(date),
            is_ahead: date >= today,
            jobs: own.map(|job| DayJob::of(job, known, plan)).collect(),
        }
    }
}

impl DayJob {
    fn of(job: &Job, known: &Known, plan: Option<&Arc<Plan>>) -> Self {
        let readiness = plan.into_iter().flat_map(|plan| &plan.readiness);
        let ready = readiness.into_iter().find(|ready| ready.job == job.id.as_str());
        let (chance, carries) = ready.map(carries).unwrap_or_default();
        Self {
            id: job.id.to_string(),
            name: job_name(job),
            what: what(job, known),
            shape: shape(job),
            status: status(job),
            chance,
            carries,
            is_over: matches!(job.status, JobStatus::Done | JobStatus::Cancelled),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_week_is_called_by_its_days_and_its_number() {
        let week = |day: &str| week_name(day.parse().unwrap());
        assert_eq!(week("2026-03-02"), "2 to 8 March, week 10");
        // The last week of 2026 is its 53rd, and ends in the next year.
        assert_eq!(week("2026-12-28"), "28 December to 3 January, week 53");
    }
}
