//! `jobs.csv`.

use capful_domain::{Job, Word};

use crate::catalog_files::ids;
use crate::cells::{self, write_day};
use crate::folder_row::{FolderRow, Pen};
use crate::references::References;
use crate::row::Row;
use crate::table::File;

impl FolderRow for Job {
    const FILE: File = File {
        name: "jobs.csv",
        columns: &[
            "id",
            "booked_at",
            "planned_on",
            "status",
            "job_types",
            "size",
            "condition",
            "started_at?",
            "finished_at?",
            "cancelled_at?",
            "vehicle?",
            "price?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let booked_at = row.required_time("booked_at");
        let planned_on = row.required("planned_on", cells::day);
        let status = row.required("status", cells::word);
        let job_types =
            row.required("job_types", |t| cells::list(t, |item| references.job_type(item)));
        let size = row.required("size", cells::word);
        let condition = row.required("condition", cells::condition);
        let started_at = row.optional_time("started_at");
        let finished_at = row.optional_time("finished_at");
        if finished_at.zip(started_at).is_some_and(|(finished, started)| finished < started) {
            row.wrong("finished_at", "a time that is not before started_at");
        }
        let cancelled_at = row.optional_time("cancelled_at");
        let ended_at = finished_at.or(cancelled_at);
        if booked_at.zip(ended_at).is_some_and(|(booked, ended)| booked > ended) {
            row.warn("booked_at", "a booking made after the job ended");
        }
        let vehicle = row.optional_text("vehicle", cells::text);
        let price = row.optional_money("price");
        row.sound()?;
        Some(Self {
            id: id?,
            booked_at: booked_at?,
            planned_on: planned_on?,
            status: status?,
            job_types: job_types?,
            size: size?,
            condition: condition?,
            started_at,
            finished_at,
            cancelled_at,
            vehicle,
            price,
        })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.id.to_string(),
            pen.time(self.booked_at),
            write_day(self.planned_on),
            self.status.word().to_owned(),
            ids(&self.job_types),
            self.size.word().to_owned(),
            self.condition.grade().to_string(),
            pen.optional_time(self.started_at),
            pen.optional_time(self.finished_at),
            pen.optional_time(self.cancelled_at),
            pen.optional_text(self.vehicle.as_deref()),
            pen.optional_money(self.price),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}
