//! What the shop sells, and what the owner believes that it takes.

use capful_domain::catalog::ComesBack;
use capful_domain::{Amount, JobType, Money, Product, SheetRow};
use rust_decimal::Decimal;

use crate::id;
use crate::products::ratio;

/// Id, name, price, cost of a stall (0: the shop's own), minutes of work.
#[rustfmt::skip]
const SERVICES: [(&str, &str, i64, i64, u32); 14] = [
    ("wash", "Maintenance wash", 85, 0, 75),
    ("decontamination", "Decontamination wash", 165, 0, 150),
    ("interior", "Interior clean", 95, 0, 90),
    ("deep-interior", "Deep interior clean", 240, 0, 240),
    ("one-step", "One-step polish", 420, 200, 270),
    ("two-step", "Two-step correction", 820, 320, 420),
    ("paint-coating", "Paint coating", 640, 400, 180),
    ("wheel-coating", "Wheel-face coating", 220, 180, 120),
    ("glass-coating", "Glass coating", 140, 160, 60),
    ("leather-care", "Leather care", 120, 0, 75),
    ("engine-bay", "Engine bay clean and dress", 95, 0, 60),
    ("odour", "Odour treatment", 130, 0, 60),
    ("trim", "Trim restoration", 110, 0, 75),
    ("coating-care", "Coating care wash", 150, 0, 105),
];

/// Job type, after so many days, share in percent, for which job type.
const RETURNS: [(&str, u32, i64, &str); 4] = [
    ("wash", 30, 20, "wash"),
    ("paint-coating", 180, 60, "coating-care"),
    ("wheel-coating", 180, 25, "coating-care"),
    ("leather-care", 270, 30, "leather-care"),
];

/// Product, amount in its unit (of the mix where there is water), parts of water, share of jobs
/// in percent.
type Uses = &'static [(&'static str, i64, i64, i64)];

#[rustfmt::skip]
const SHEET: [(&str, Uses); 14] = [
    ("wash", &[
        ("wash-shampoo", 40, 0, 100), ("snow-foam", 600, 10, 90), ("wheel-cleaner", 180, 0, 85),
        ("tyre-dressing", 60, 0, 90), ("glass-cleaner", 50, 0, 100),
        ("quick-detailer", 60, 0, 60), ("microfibre-cloth", 1, 0, 60),
        ("drying-towel", 1, 0, 5), ("spray-wax", 40, 0, 25),
    ]),
    ("decontamination", &[
        ("wash-shampoo", 50, 0, 100), ("snow-foam", 900, 10, 100), ("iron-remover", 450, 0, 100),
        ("tar-remover", 70, 0, 75), ("wheel-cleaner", 200, 0, 80), ("wheel-acid", 90, 0, 15),
        ("clay-lube", 400, 15, 90), ("clay-bar", 1, 0, 45), ("nitrile-gloves", 6, 0, 100),
    ]),
    ("interior", &[
        ("apc", 250, 10, 85), ("interior-detailer", 120, 0, 100), ("glass-cleaner", 80, 0, 100),
        ("microfibre-cloth", 2, 0, 70), ("nitrile-gloves", 2, 0, 70),
    ]),
    ("deep-interior", &[
        ("apc", 900, 10, 100), ("interior-detailer", 180, 0, 100), ("glass-cleaner", 110, 0, 100),
        ("fabric-protectant", 350, 0, 45), ("leather-cleaner", 120, 0, 30),
        ("microfibre-cloth", 4, 0, 90), ("nitrile-gloves", 4, 0, 100),
    ]),
    ("one-step", &[
        ("medium-polish", 70, 0, 100), ("finishing-polish", 20, 0, 30), ("panel-wipe", 120, 0, 100),
        ("polishing-pad", 1, 0, 70), ("masking-tape", 12, 0, 95), ("microfibre-cloth", 5, 0, 100),
        ("water-spot-remover", 40, 0, 30), ("nitrile-gloves", 4, 0, 90),
    ]),
    ("two-step", &[
        ("cutting-compound", 110, 0, 100), ("medium-polish", 25, 0, 35),
        ("finishing-polish", 80, 0, 100), ("panel-wipe", 200, 0, 100), ("cutting-pad", 2, 0, 85),
        ("polishing-pad", 1, 0, 90), ("masking-tape", 20, 0, 100),
        ("microfibre-cloth", 8, 0, 100), ("nitrile-gloves", 6, 0, 100),
    ]),
    ("paint-coating", &[
        ("paint-coating-50", 26, 0, 100), ("panel-wipe", 150, 0, 100),
        ("microfibre-cloth", 6, 0, 100), ("nitrile-gloves", 6, 0, 100),
    ]),
    ("wheel-coating", &[
        ("wheel-coating-30", 14, 0, 100), ("iron-remover", 150, 0, 90), ("panel-wipe", 60, 0, 100),
        ("nitrile-gloves", 4, 0, 100),
    ]),
    ("glass-coating", &[
        ("glass-coating-50", 16, 0, 100), ("glass-cleaner", 60, 0, 100),
        ("water-spot-remover", 30, 0, 45), ("microfibre-cloth", 2, 0, 100),
        ("nitrile-gloves", 2, 0, 90),
    ]),
    ("leather-care", &[
        ("leather-cleaner", 90, 0, 100), ("leather-cream", 45, 0, 100),
        ("microfibre-cloth", 3, 0, 90), ("nitrile-gloves", 2, 0, 80),
    ]),
    ("engine-bay", &[
        ("degreaser", 800, 4, 100), ("engine-dressing", 110, 0, 90), ("apc", 300, 4, 40),
        ("nitrile-gloves", 4, 0, 100),
    ]),
    ("odour", &[
        ("odour-fogger", 1, 0, 100), ("apc", 350, 10, 70), ("interior-detailer", 60, 0, 60),
        ("nitrile-gloves", 2, 0, 80),
    ]),
    ("trim", &[
        ("trim-restorer", 28, 0, 100), ("apc", 200, 10, 90), ("masking-tape", 6, 0, 40),
        ("nitrile-gloves", 2, 0, 100),
    ]),
    ("coating-care", &[
        ("wash-shampoo", 45, 0, 100), ("snow-foam", 700, 10, 100), ("wheel-cleaner", 150, 0, 80),
        ("care-spray", 55, 0, 100), ("glass-cleaner", 50, 0, 100),
        ("iron-remover", 200, 0, 35), ("water-spot-remover", 35, 0, 25),
        ("microfibre-cloth", 2, 0, 80), ("nitrile-gloves", 2, 0, 80),
    ]),
];

/// What is sold together, and how often out of all visits (weights). Coatings go on paint that
/// was made ready for them.
#[rustfmt::skip]
pub const BUNDLES: [(&[&str], u32); 20] = [
    (&["wash"], 18), (&["wash", "interior"], 19), (&["interior"], 6),
    (&["wash", "deep-interior"], 8), (&["deep-interior", "odour"], 3), (&["decontamination"], 6),
    (&["decontamination", "one-step"], 7),
    (&["decontamination", "one-step", "paint-coating"], 8),
    (&["decontamination", "two-step", "paint-coating"], 4),
    (&["one-step", "paint-coating", "wheel-coating"], 3),
    (&["decontamination", "wheel-coating"], 4), (&["wash", "glass-coating"], 5),
    (&["wash", "leather-care"], 3), (&["interior", "leather-care"], 4),
    (&["wash", "engine-bay"], 4), (&["engine-bay"], 2), (&["wash", "interior", "trim"], 2),
    (&["wash", "trim"], 3), (&["odour"], 2), (&["coating-care"], 3),
];

/// Every job type.
pub fn job_types() -> Vec<JobType> {
    SERVICES
        .iter()
        .map(|&(name_id, name, price, stall, _)| job_type(name_id, name, price, stall))
        .collect()
}

/// Minutes of work that each job type takes, in the order of [`job_types`].
pub fn minutes() -> Vec<u32> {
    SERVICES.iter().map(|service| service.4).collect()
}

fn job_type(name_id: &str, name: &str, price: i64, stall: i64) -> JobType {
    let dollars = |n: i64| Some(Money::from_minor(n * 100));
    let back = RETURNS.iter().find(|row| row.0 == name_id);
    JobType {
        id: id(name_id),
        name: name.to_owned(),
        price: dollars(price),
        stall_cost: dollars(stall).filter(|cost| *cost > Money::ZERO),
        comes_back: back.map(|&(_, days, percent, next)| ComesBack {
            days,
            share: Decimal::new(percent, 2).normalize(),
            job_type: Some(id(next)).filter(|_| next != name_id),
        }),
    }
}

/// The usage sheet, in the products' own units.
pub fn usage_sheet(products: &[Product]) -> Vec<SheetRow> {
    let mut rows = Vec::new();
    for (job_type, uses) in SHEET {
        for &(product, amount, water, percent) in uses {
            let Some(product) = products.iter().find(|p| p.id.as_str() == product) else {
                continue;
            };
            // What goes on every vehicle the owner knows better than what goes on some.
            let log_sd = if percent < 50 { Some(70) } else { Some(40).filter(|_| water == 0) };
            rows.push(SheetRow {
                job_type: id(job_type),
                product: product.id.clone(),
                amount: Amount { number: Decimal::from(amount), unit: product.unit },
                ratio: Some(ratio(water)).filter(|ratio| !ratio.is_neat()),
                share_of_jobs: Some(Decimal::new(percent, 2).normalize())
                    .filter(|share| *share < Decimal::ONE),
                log_sd: log_sd.map(|n| Decimal::new(n, 2).normalize()),
            });
        }
    }
    rows
}
