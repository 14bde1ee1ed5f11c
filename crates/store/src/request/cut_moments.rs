//! The moments of a change, as both databases keep them.

use capful_domain::{Facts, Job};
use chrono::{DateTime, Utc};

use crate::db::moments::kept;
use crate::request::change::Change;

fn cut(at: &mut DateTime<Utc>) {
    *at = kept(*at);
}

fn cut_job(job: &mut Job) {
    cut(&mut job.booked_at);
    let later = [&mut job.started_at, &mut job.finished_at, &mut job.cancelled_at];
    later.into_iter().flatten().for_each(cut);
}

/// A change with all its moments cut.
pub(crate) fn cut_change(change: &Change) -> Change {
    let mut change = change.clone();
    match &mut change {
        Change::Book(job) | Change::ChangeJob(job) => cut_job(job),
        Change::StartJob { at, .. } | Change::CancelJob { at, .. } => cut(at),
        Change::FinishJob(finish) => {
            cut(&mut finish.at);
            finish.pours.iter_mut().for_each(|pour| cut(&mut pour.at));
        }
        Change::Pour(pours) => pours.iter_mut().for_each(|pour| cut(&mut pour.at)),
        Change::Open(opening) => cut(&mut opening.at),
        Change::Mix(mix) => cut(&mut mix.at),
        Change::Discard(discard) => cut(&mut discard.at),
        Change::Count(count) => cut(&mut count.at),
        Change::Receive(receipts) | Change::ReceiveLast { receipts, .. } => {
            receipts.iter_mut().for_each(|receipt| cut(&mut receipt.at));
        }
        Change::PlaceOrder(order, _) => cut(&mut order.placed_at),
        Change::Import { facts, expected } => {
            cut_facts(facts);
            expected.iter_mut().for_each(|pour| cut(&mut pour.at));
        }
        _ => {}
    }
    change
}

fn cut_facts(facts: &mut Facts) {
    facts.jobs.iter_mut().for_each(cut_job);
    facts.pours.iter_mut().for_each(|row| cut(&mut row.at));
    facts.receipts.iter_mut().for_each(|row| cut(&mut row.at));
    facts.openings.iter_mut().for_each(|row| cut(&mut row.at));
    facts.discards.iter_mut().for_each(|row| cut(&mut row.at));
    facts.mixes.iter_mut().for_each(|row| cut(&mut row.at));
    facts.counts.iter_mut().for_each(|row| cut(&mut row.at));
    facts.orders.iter_mut().for_each(|row| cut(&mut row.placed_at));
}
