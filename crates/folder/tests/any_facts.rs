//! Whatever a shop has written down, written to files and read again, is the same.

#![allow(clippy::unwrap_used)]

use capful_domain::catalog::{ComesBack, WrongMeasure};
use capful_domain::facts::{
    Count, Discard, DiscardReason, Method, Mix, Opening, Order, OrderLine, OrderStatus, Pour,
    Receipt,
};
use capful_domain::{
    Amount, Condition, ContainerId, Currency, Dimension, Facts, Form, Id, Job, JobStatus, JobType,
    Money, NamedRatio, Offer, Product, Ratio, SheetRow, Shop, Supplier, Unit, UnitSystem,
    VehicleSize, Word,
};
use capful_folder::{read_files, to_files};
use chrono::{DateTime, Days, NaiveDate, Utc, Weekday};
use proptest::collection::{btree_set, vec};
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;
use rust_decimal::Decimal;

/// A product of each dimension, a receipt and a mix of the first stand in every folder.
const UNITS: [Unit; 4] = [Unit::FlOz, Unit::Kg, Unit::M, Unit::Each];

fn id(prefix: &str, number: usize) -> Id {
    Id::parse(&format!("{prefix}-{number}")).unwrap()
}

fn product_id() -> impl Strategy<Value = Id> {
    (0..UNITS.len()).prop_map(|number| id("p", number))
}

fn text() -> impl Strategy<Value = String> {
    "[ ,\";'#=+@é€-]{0,4}[a-z]{1,3}[ ,\";\\\\é€-]{0,6}"
}

fn notes() -> impl Strategy<Value = String> {
    "([ ,\"\t\n;'#=+@é€-]|\r\n){0,4}[a-z]{1,3}([ ,\"\t\n;\\\\é€-]|\r\n){0,6}"
}

fn decimal() -> impl Strategy<Value = Decimal> {
    (1..10_000_000_i64, 0..7_u32).prop_map(|(number, scale)| Decimal::new(number, scale))
}

fn share() -> impl Strategy<Value = Decimal> {
    (0..=1000_i64).prop_map(|number| Decimal::new(number, 3))
}

fn money() -> impl Strategy<Value = Money> {
    (0..100_000_000_i64).prop_map(Money::from_minor)
}

fn ratio() -> impl Strategy<Value = Ratio> {
    (0..10_000_000_i64).prop_map(|n| Ratio::from_water(Decimal::new(n, 3)).unwrap())
}

fn time() -> impl Strategy<Value = DateTime<Utc>> {
    let seconds = 1_500_000_000..1_900_000_000_i64;
    let fine = (seconds.clone(), 0..1_000_000_000_u32);
    prop_oneof![
        fine.prop_map(|(seconds, nanos)| DateTime::from_timestamp(seconds, nanos).unwrap()),
        seconds.prop_map(|s| DateTime::from_timestamp(s / 60 * 60, 0).unwrap()),
        (17_400..22_000_i64).prop_map(|days| DateTime::from_timestamp(days * 86_400, 0).unwrap()),
        (17_400..22_000_i64)
            .prop_map(|days| { DateTime::from_timestamp(days * 86_400 + 3 * 3600, 0).unwrap() }),
    ]
}

fn day() -> impl Strategy<Value = NaiveDate> {
    (0..4000_u64).prop_map(|days| NaiveDate::from_ymd_opt(2020, 1, 1).unwrap() + Days::new(days))
}

fn word<T: Word + std::fmt::Debug>() -> impl Strategy<Value = T> {
    select(T::WORDS).prop_map(|(_, value)| value)
}

fn weekdays() -> impl Strategy<Value = Vec<Weekday>> {
    vec(word::<Weekday>(), 0..6)
}

/// A product and an amount in a unit that fits it.
fn measured() -> impl Strategy<Value = (Id, Amount)> {
    let unit = select(Unit::ALL.to_vec());
    (unit, 0..10_000_000_i64, 0..7_u32).prop_map(|(unit, number, scale)| {
        let place = match unit.dimension() {
            Dimension::Volume => 0,
            Dimension::Mass => 1,
            Dimension::Length => 2,
            Dimension::Piece => 3,
        };
        (id("p", place), Amount { number: Decimal::new(number, scale), unit })
    })
}

/// The amount of the mix, or the least that can be told where it would come to nothing.
fn told(facts: &Facts, product: &Id, amount: Amount, ratio: Option<Ratio>) -> Amount {
    let own = facts.products.iter().find(|own| own.id == *product).unwrap();
    match own.quantity_in_mix(amount, ratio.unwrap_or(Ratio::NEAT)) {
        Err(WrongMeasure::TooSmall { least }) => least,
        _ => amount,
    }
}

fn shop() -> impl Strategy<Value = Shop> {
    let place = (
        text(),
        select(vec![chrono_tz::America::Halifax, chrono_tz::America::Santiago, chrono_tz::UTC]),
        select(vec!["CAD", "JPY", "KWD"]),
        prop_oneof![Just(UnitSystem::Metric), Just(UnitSystem::Us)],
    );
    let days = (word(), weekdays(), btree_set(day(), 0..4));
    let costs = (money(), share(), 1..1000_i64, of((1..1000_i64).prop_map(Money::from_minor)));
    let factors = (vec(decimal(), 4), vec(decimal(), 5));
    (place, days, costs, factors).prop_map(|(place, days, costs, factors)| {
        let mut shop = Shop::new(&place.0, place.1, Currency::parse(place.2).unwrap());
        shop.units = place.3;
        (shop.order_weekday, shop.closed, shop.closed_days) = days;
        (shop.stall_cost, shop.holding_rate) = (costs.0, costs.1);
        (shop.service, shop.budget) = (Decimal::new(costs.2, 3), costs.3);
        shop.size_factors = factors.0.try_into().unwrap();
        shop.condition_factors = factors.1.try_into().unwrap();
        shop
    })
}

fn product(number: usize) -> impl Strategy<Value = Product> {
    let texts = (
        text(),
        of(text()),
        of(notes()),
        prop_oneof![Just(Form::ReadyToUse), Just(Form::Concentrate)],
    );
    let numbers = (1..1_000_000_i64, of(decimal()), of(decimal()));
    let days = (of(0..900_u32), of(0..900_u32), of(0..90_u32));
    let words = vec("[A-Z][0-9,\"+]{0,4}", 0..3);
    let lists = (words.clone(), words, btree_set(product_id(), 0..3));
    (texts, numbers, days, lists).prop_map(move |(texts, numbers, days, lists)| {
        let unit = UNITS[number];
        let container_size = Amount { number: Decimal::new(numbers.0, 2), unit };
        let id = id("p", number);
        let mut product = Product::new(id.clone(), &texts.0, container_size);
        (product.category, product.notes, product.form) = (texts.1, texts.2, texts.3);
        (product.density_g_ml, product.tare_g) = (numbers.1, numbers.2);
        (product.shelf_days, product.open_days, product.mix_days) = days;
        (product.hazards, product.protection) = (lists.0, lists.1);
        product.substitutes = lists.2.into_iter().filter(|other| *other != id).collect();
        product
    })
}

fn catalog(facts: Facts) -> impl Strategy<Value = Facts> {
    let ratios = vec((product_id(), ratio(), text()), 0..4);
    let delivery = (decimal(), of(share()), weekdays(), money(), of(money()), money());
    let suppliers = vec((text(), delivery), 1..4);
    let offers = vec((product_id(), money(), of(text()), 1..9_u32, any::<bool>()), 0..4);
    let back = of((1..900_u32, share(), of(Just(id("t", 0)))));
    let job_types = vec((text(), of(money()), of(money()), back), 1..4);
    let sheet = vec((measured(), of(ratio()), of(share()), of(decimal())), 0..4);
    (ratios, suppliers, offers, job_types, sheet).prop_map(move |rows| {
        let mut facts = facts.clone();
        for (n, (product, ratio, label)) in rows.0.into_iter().enumerate() {
            facts.ratios.push(NamedRatio { product, ratio, label: format!("{label}{n}") });
        }
        for (n, (name, delivery)) in rows.1.into_iter().enumerate() {
            facts.suppliers.push(Supplier {
                id: id("s", n),
                name,
                lead_days: delivery.0 / Decimal::ONE_HUNDRED / Decimal::ONE_HUNDRED,
                lead_days_sd: delivery.1,
                order_weekdays: delivery.2,
                freight: delivery.3,
                free_freight_over: delivery.4,
                minimum_order: delivery.5,
            });
        }
        for (n, (product, price, code, minimum_packs, preferred)) in rows.2.into_iter().enumerate()
        {
            let (supplier, pack) = (id("s", 0), n as u32 + 1);
            facts.offers.push(Offer {
                supplier,
                product,
                pack,
                price,
                code,
                minimum_packs,
                preferred,
            });
        }
        for (n, (name, price, stall_cost, back)) in rows.3.into_iter().enumerate() {
            let comes_back =
                back.map(|(days, share, job_type)| ComesBack { days, share, job_type });
            facts.job_types.push(JobType { id: id("t", n), name, price, stall_cost, comes_back });
        }
        for ((product, amount), ratio, share_of_jobs, log_sd) in rows.4 {
            let amount = told(&facts, &product, amount, ratio);
            let row =
                SheetRow { job_type: id("t", 0), product, amount, ratio, share_of_jobs, log_sd };
            let same = |other: &SheetRow| (&other.product, other.ratio) == (&row.product, ratio);
            if !facts.usage_sheet.iter().any(same) && ratio != Some(Ratio::NEAT) {
                facts.usage_sheet.push(row);
            }
        }
        facts
    })
}

fn orders_and_receipts(facts: Facts) -> impl Strategy<Value = Facts> {
    let status = of(word::<OrderStatus>());
    let orders = vec((time(), status), 1..4);
    let lines = vec((product_id(), 1..9_u32, of(text())), 0..4);
    let brought = (1..9_u32, money(), of(Just(id("s", 0))), of(Just(id("o", 0))));
    let lot = (of(text()), of(day()), of((1..1000_i64).prop_map(|n| Decimal::new(n, 1))));
    let receipts = vec((time(), product_id(), brought, lot), 0..4);
    (orders, lines, receipts).prop_map(move |(orders, lines, receipts)| {
        let mut facts = facts.clone();
        for (n, (placed_at, status)) in orders.into_iter().enumerate() {
            facts.orders.push(Order { id: id("o", n), placed_at, supplier: id("s", 0), status });
        }
        for (product, packs, supplier_code) in lines {
            facts.order_lines.push(OrderLine { order: id("o", 0), product, packs, supplier_code });
        }
        for (n, (at, product, brought, lot)) in receipts.into_iter().enumerate() {
            facts.receipts.push(Receipt {
                id: id("r", n),
                at,
                product: if n == 0 { id("p", 0) } else { product },
                containers: brought.0,
                unit_cost: brought.1,
                supplier: brought.2,
                order: brought.3,
                lot: lot.0,
                best_before: lot.1,
                container_size: lot.2,
            });
        }
        facts
    })
}

fn jobs(facts: Facts) -> impl Strategy<Value = Facts> {
    let what = (word::<JobStatus>(), word::<VehicleSize>(), 1..=5_u8);
    let ended = (of(time()), of(time()), of(time()));
    let jobs = vec((time(), day(), what, ended, of(text()), of(money()), 1..3_usize), 1..4);
    jobs.prop_map(move |rows| {
        let mut facts = facts.clone();
        for (n, (booked_at, planned_on, what, ended, vehicle, price, types)) in
            rows.into_iter().enumerate()
        {
            let finished_at = ended.1.max(ended.0).filter(|_| ended.1.is_some());
            facts.jobs.push(Job {
                id: id("j", n),
                booked_at,
                planned_on,
                status: what.0,
                job_types: vec![id("t", 0); types],
                size: what.1,
                condition: Condition::new(what.2).unwrap(),
                started_at: ended.0,
                finished_at,
                cancelled_at: ended.2,
                vehicle,
                price,
            });
        }
        facts
    })
}

fn movements(facts: Facts) -> impl Strategy<Value = Facts> {
    let pours =
        vec((time(), measured(), of(Just(id("j", 0))), of(ratio()), of(word::<Method>())), 0..4);
    let openings = vec((time(), any::<bool>()), 0..4);
    let reason = of(word::<DiscardReason>());
    let discards = vec((time(), measured(), any::<bool>(), reason), 0..4);
    let mixes = vec((time(), decimal(), ratio()), 0..4);
    let counts = vec((time(), measured(), 0..3_u8, 0..9_u32, of(share())), 0..4);
    (pours, openings, discards, mixes, counts).prop_map(move |rows| {
        let mut facts = facts.clone();
        let some = facts.receipts.first().map(|receipt| ContainerId::of(&receipt.id, 1));
        for (n, (at, (product, amount), job, ratio, method)) in rows.0.into_iter().enumerate() {
            let container = some.clone().filter(|_| product == id("p", 0));
            let (id, amount) = (id("u", n), told(&facts, &product, amount, ratio));
            facts.pours.push(Pour { id, at, product, amount, job, ratio, container, method });
        }
        for (n, (at, named)) in rows.1.into_iter().enumerate() {
            let container = some.clone().filter(|_| named);
            facts.openings.push(Opening { id: id("op", n), at, product: id("p", 0), container });
        }
        for (n, (at, (product, amount), whole, reason)) in rows.2.into_iter().enumerate() {
            let amount = (!whole).then(|| told(&facts, &product, amount, None));
            let id = id("d", n);
            facts.discards.push(Discard { id, at, product, amount, container: None, reason });
        }
        for (n, (at, number, ratio)) in rows.3.into_iter().enumerate() {
            let (id, product, container) = (id("m", n), id("p", 0), some.clone());
            let amount = Amount { number, unit: Unit::Gal };
            let amount = told(&facts, &product, amount, Some(ratio));
            facts.mixes.push(Mix { id, at, product, amount, ratio, container });
        }
        for (n, (at, (product, amount), kind, sealed, sd_share)) in rows.4.into_iter().enumerate() {
            let mass = kind == 1 && amount.unit.dimension() == Dimension::Mass;
            let container = (product == id("p", 0)).then(|| facts.mixes.last()).flatten();
            facts.counts.push(Count {
                id: id("c", n),
                at,
                amount: (kind == 0).then(|| told(&facts, &product, amount, None)),
                gross_g: mass.then_some(amount.number),
                container: container.map(|mix| ContainerId::of_mix(&mix.id)),
                product,
                sealed: (kind != 0).then_some(sealed),
                sd_share,
            });
        }
        facts
    })
}

fn any_facts() -> impl Strategy<Value = Facts> {
    (shop(), product(0), product(1), product(2), product(3))
        .prop_map(|(shop, a, b, c, d)| Facts { products: vec![a, b, c, d], ..Facts::new(shop) })
        .prop_flat_map(catalog)
        .prop_flat_map(orders_and_receipts)
        .prop_flat_map(jobs)
        .prop_flat_map(movements)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn facts_come_back_the_same(facts in any_facts()) {
        let files = to_files(&facts);
        let reading = read_files(&files);
        prop_assert!(reading.is_ok(), "{}", reading.unwrap_err());
        let again = reading.unwrap().facts;
        prop_assert_eq!(&again, &facts);
        prop_assert_eq!(to_files(&again), files);
    }
}
