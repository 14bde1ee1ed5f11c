//! The plan on one screen: what a person can act on, and how to open the rest.

use capful_forecast::plan::{GoingOff, OrderLine};

use super::numbers::chance;
use super::readiness::short_of;
use super::{Cell, Column, Table, Tone, View, bullet, heading, paragraph};

/// Order lines, jobs, containers and warnings that a screen has room for.
const MOST_LINES: usize = 12;
const MOST_JOBS: usize = 6;
const MOST_LATER_JOBS: usize = 2;
const MOST_CONTAINERS: usize = 3;
const MOST_WARNINGS: usize = 4;

/// A use-by so near asks for something to be done.
const SOON_DAYS: i64 = 60;

/// Below this chance a job that is not among the next ones is shown all the same.
const DOUBTFUL: f64 = 0.9;

/// The plan on one screen.
#[must_use]
pub fn screen(view: &View<'_>) -> String {
    let day = view.plan.as_of.format("%A %-d %B %Y");
    let title = heading(view.ink, &view.plan.shop, &day.to_string());
    let parts = [title, order(view), jobs(view), going_off(view), warnings(view), further(view)];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n")
}

fn order(view: &View<'_>) -> String {
    let weekly = &view.plan.weekly_order;
    let mut text = if weekly.orders.is_empty() {
        let name = heading(view.ink, "Order", "");
        format!("{name}{}", paragraph(view.ink, Tone::Plain, 2, "Nothing to order this week."))
    } else {
        format!("{}{}", heading(view.ink, "Order", &view.money(weekly.total)), order_table(view))
    };
    if !weekly.waiting.is_empty() {
        let names: Vec<&str> = weekly.waiting.iter().map(|w| view.supplier(&w.supplier)).collect();
        let line = format!("Can wait: {}.", names.join(", "));
        text.push_str(&paragraph(view.ink, Tone::Quiet, 2, &line));
    }
    text
}

/// The lines of every order; where the screen is too short for all, each supplier has its share.
fn order_table(view: &View<'_>) -> String {
    let orders = &view.plan.weekly_order.orders;
    let number = Column::Right;
    let mut table = Table::new(&[number, Column::Flex, number, number, number, number, number]);
    table.names(&["packs", "product", "cost", "left", "coming", "jobs take", "stall"]);
    let mut room = MOST_LINES;
    let mut hidden = 0;
    for (place, order) in orders.iter().enumerate() {
        table.line(format!(
            "{}, {}: place {}, here {}",
            view.supplier(&order.supplier),
            order.total,
            view.by(order.place_by),
            view.span(order.arrives.p50, order.arrives.p90)
        ));
        let share = (room / (orders.len() - place)).max(2);
        // A line that says "and 1 more" is better spent on that one.
        let shown = if order.lines.len() <= share + 1 { order.lines.len() } else { share };
        for line in &order.lines[..shown] {
            table.row(order_line(view, line));
        }
        room = room.saturating_sub(shown);
        hidden += order.lines.len() - shown;
    }
    format!("{}{}", table.lines(view.ink), more(view, hidden, 0, "order"))
}

fn order_line(view: &View<'_>, line: &OrderLine) -> Vec<Cell> {
    let mut take = line.parts.booked;
    take.amount += line.parts.not_booked.amount;
    vec![
        format!("{} ×", line.packs).into(),
        view.product(&line.product).into(),
        line.cost.to_string().into(),
        view.amount_or_dash(line.parts.on_hand).into(),
        view.amount_or_dash(line.parts.on_order).into(),
        view.amount_or_dash(take).into(),
        Cell::new(
            View::ready_tone(1.0 - line.stall_chance_without),
            chance(line.stall_chance_without),
        ),
    ]
}

fn jobs(view: &View<'_>) -> String {
    let all = &view.plan.readiness;
    let mut text = heading(view.ink, "Jobs", "");
    if all.is_empty() {
        text.push_str(&paragraph(view.ink, Tone::Plain, 2, "No jobs are booked."));
        return text;
    }
    let later = all.iter().skip(MOST_JOBS).filter(|job| job.ready_chance < DOUBTFUL);
    let shown: Vec<_> = all.iter().take(MOST_JOBS).chain(later.take(MOST_LATER_JOBS)).collect();
    let mut table =
        Table::new(&[Column::Left, Column::Left, Column::Flex, Column::Right, Column::Flex]);
    table.names(&["day", "job", "work", "ready", "may be short of"]);
    for job in &shown {
        table.row(vec![
            view.day(job.planned_on).into(),
            job.job.as_str().into(),
            view.work(&job.job).into(),
            Cell::new(View::ready_tone(job.ready_chance), chance(job.ready_chance)),
            short_of(view, job, DOUBTFUL).into(),
        ]);
    }
    text.push_str(&table.lines(view.ink));
    text.push_str(&more(view, all.len(), shown.len(), "readiness"));
    text
}

fn going_off(view: &View<'_>) -> String {
    let all = &view.plan.going_off;
    if all.is_empty() {
        return String::new();
    }
    let total = all.iter().map(|one| one.waste_cost).sum();
    let mut text = heading(view.ink, "Going off", &view.money(total));
    let mut table = Table::new(&[
        Column::Left,
        Column::Flex,
        Column::Left,
        Column::Left,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["use by", "product", "container", "", "left", "to waste", "cost"]);
    for one in dearest(all) {
        let tone = if one.days_left < 0 { Tone::Alarm } else { Tone::Plain };
        table.row(vec![
            Cell::new(tone, view.use_by(one.use_by)),
            view.product(&one.product).into(),
            one.container.as_str().into(),
            one.state.into(),
            view.amount(one.left).into(),
            view.amount_or_dash(one.expected_waste).into(),
            one.waste_cost.to_string().into(),
        ]);
    }
    text.push_str(&table.lines(view.ink));
    text.push_str(&more(view, all.len(), MOST_CONTAINERS, "going-off"));
    text
}

/// The containers that waste most, of those that can still be used up or thrown away soon before
/// the others; the first to go off first.
fn dearest(all: &[GoingOff]) -> Vec<&GoingOff> {
    let mut shown: Vec<&GoingOff> = all.iter().collect();
    shown.sort_by_key(|one| (one.days_left > SOON_DAYS, std::cmp::Reverse(one.waste_cost)));
    shown.truncate(MOST_CONTAINERS);
    shown.sort_by_key(|one| one.use_by);
    shown
}

fn warnings(view: &View<'_>) -> String {
    let all = &view.plan.warnings;
    if all.is_empty() {
        return String::new();
    }
    let mut text = heading(view.ink, "Know", "");
    for warning in all.iter().take(MOST_WARNINGS) {
        text.push_str(&bullet(first_sentence(&warning.text)));
    }
    text.push_str(&more(view, all.len(), MOST_WARNINGS, "warnings"));
    text
}

fn first_sentence(text: &str) -> &str {
    text.find(". ").map_or(text, |end| &text[..=end])
}

/// What is left out, and how to see it.
fn more(view: &View<'_>, all: usize, shown: usize, part: &str) -> String {
    match all.saturating_sub(shown) {
        0 => String::new(),
        hidden => {
            let line = format!("and {hidden} more: --open {part}");
            paragraph(view.ink, Tone::Quiet, 2, &line)
        }
    }
}

fn further(view: &View<'_>) -> String {
    let line = "Open further with --open order, readiness, going-off, products, usage or \
                warnings, or with the id of a product or a job.";
    paragraph(view.ink, Tone::Quiet, 0, line)
}
