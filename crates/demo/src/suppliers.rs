//! Four invented suppliers and what they ask.

use capful_domain::{Money, Offer, Supplier};
use chrono::Weekday::{self, Fri, Mon, Thu, Tue, Wed};
use rust_decimal::Decimal;

use crate::id;

struct Row {
    id: &'static str,
    name: &'static str,
    /// Tenths of a day.
    lead: i64,
    lead_sd: i64,
    weekdays: &'static [Weekday],
    freight: i64,
    free_over: i64,
    minimum: i64,
    code: &'static str,
}

const ROWS: [Row; 4] = [
    Row {
        id: "north-dock",
        name: "North Dock Supply",
        lead: 40,
        lead_sd: 15,
        weekdays: &[],
        freight: 1800,
        free_over: 16_000,
        minimum: 0,
        code: "ND",
    },
    Row {
        id: "kettle-lane",
        name: "Kettle Lane Chemicals",
        lead: 25,
        lead_sd: 10,
        weekdays: &[Mon, Tue, Wed, Thu, Fri],
        freight: 1250,
        free_over: 15_000,
        minimum: 5000,
        code: "K",
    },
    Row {
        id: "spindrift-yard",
        name: "Spindrift Yard Finishes",
        lead: 70,
        lead_sd: 25,
        weekdays: &[Mon, Thu],
        freight: 2500,
        free_over: 27_500,
        minimum: 10_000,
        code: "SY-",
    },
    Row {
        id: "quarry-steps",
        name: "Quarry Steps Cloth and Paper",
        lead: 50,
        lead_sd: 20,
        weekdays: &[Tue],
        freight: 1500,
        free_over: 12_500,
        minimum: 4000,
        code: "Q",
    },
];

/// Product, supplier, containers in a pack, price of the pack in cents, whether preferred.
#[rustfmt::skip]
const OFFERS: [(&str, &str, u32, i64, bool); 64] = [
    ("wash-shampoo", "north-dock", 1, 4850, true), ("wash-shampoo", "kettle-lane", 1, 5120, false),
    ("wash-shampoo", "kettle-lane", 4, 18_900, false),
    ("snow-foam", "north-dock", 1, 5400, true), ("snow-foam", "kettle-lane", 1, 5550, false),
    ("iron-remover", "north-dock", 1, 8600, false), ("iron-remover", "kettle-lane", 1, 8250, true),
    ("tar-remover", "kettle-lane", 1, 2150, true), ("tar-remover", "kettle-lane", 6, 11_700, false),
    ("tar-remover", "spindrift-yard", 1, 2390, false),
    ("apc", "north-dock", 1, 3900, false), ("apc", "kettle-lane", 1, 3650, true),
    ("apc", "kettle-lane", 4, 13_600, false),
    ("degreaser", "north-dock", 1, 4480, false), ("degreaser", "kettle-lane", 1, 4200, true),
    ("wheel-cleaner", "north-dock", 1, 6250, true),
    ("wheel-cleaner", "kettle-lane", 1, 6480, false),
    ("wheel-acid", "kettle-lane", 1, 1890, true),
    ("clay-lube", "north-dock", 1, 2450, true), ("clay-lube", "spindrift-yard", 1, 2600, false),
    ("cutting-compound", "spindrift-yard", 1, 6400, true),
    ("cutting-compound", "north-dock", 1, 6950, false),
    ("medium-polish", "spindrift-yard", 1, 5900, true),
    ("medium-polish", "north-dock", 1, 6350, false),
    ("medium-polish", "spindrift-yard", 6, 32_400, false),
    ("finishing-polish", "spindrift-yard", 1, 3800, true),
    ("finishing-polish", "north-dock", 1, 4150, false),
    ("panel-wipe", "spindrift-yard", 1, 1980, false), ("panel-wipe", "kettle-lane", 1, 1790, false),
    ("panel-wipe", "kettle-lane", 6, 9600, true),
    ("paint-coating-50", "spindrift-yard", 1, 7400, true),
    ("paint-coating-50", "spindrift-yard", 4, 27_600, false),
    ("paint-coating-50", "north-dock", 1, 8350, false),
    ("wheel-coating-30", "spindrift-yard", 1, 4600, true),
    ("wheel-coating-30", "north-dock", 1, 5200, false),
    ("glass-coating-50", "spindrift-yard", 1, 3950, true),
    ("glass-cleaner", "north-dock", 1, 2650, true),
    ("glass-cleaner", "kettle-lane", 1, 2580, false),
    ("glass-cleaner", "kettle-lane", 4, 9700, false),
    ("trim-restorer", "spindrift-yard", 1, 2900, false),
    ("trim-restorer", "north-dock", 1, 2750, true),
    ("tyre-dressing", "north-dock", 1, 5600, true),
    ("tyre-dressing", "kettle-lane", 1, 5850, false),
    ("leather-cleaner", "north-dock", 1, 2480, true),
    ("leather-cream", "north-dock", 1, 3150, true),
    ("leather-cream", "spindrift-yard", 1, 3050, false),
    ("fabric-protectant", "north-dock", 1, 3350, true),
    ("interior-detailer", "north-dock", 1, 4300, true),
    ("interior-detailer", "kettle-lane", 1, 4450, false),
    ("odour-fogger", "kettle-lane", 12, 8900, true), ("odour-fogger", "north-dock", 1, 950, false),
    ("engine-dressing", "kettle-lane", 1, 1650, true),
    ("spray-wax", "north-dock", 1, 2100, true), ("quick-detailer", "north-dock", 1, 3900, true),
    ("care-spray", "spindrift-yard", 1, 2350, true),
    ("drying-towel", "quarry-steps", 4, 5200, true),
    ("microfibre-cloth", "quarry-steps", 1, 3600, true),
    ("microfibre-cloth", "north-dock", 1, 4200, false),
    ("clay-bar", "quarry-steps", 4, 5400, true),
    ("cutting-pad", "quarry-steps", 6, 7200, true),
    ("polishing-pad", "quarry-steps", 6, 6900, true),
    ("masking-tape", "quarry-steps", 12, 6800, true),
    ("nitrile-gloves", "quarry-steps", 1, 1950, true),
    ("water-spot-remover", "spindrift-yard", 1, 2250, true),
];

/// The four suppliers.
pub fn suppliers() -> Vec<Supplier> {
    let days = |tenths: i64| Decimal::new(tenths, 1).normalize();
    let supplier = |row: &Row| Supplier {
        id: id(row.id),
        name: row.name.to_owned(),
        lead_days: days(row.lead),
        lead_days_sd: Some(days(row.lead_sd)),
        order_weekdays: row.weekdays.to_vec(),
        freight: Money::from_minor(row.freight),
        free_freight_over: Some(Money::from_minor(row.free_over)),
        minimum_order: Money::from_minor(row.minimum),
    };
    ROWS.iter().map(supplier).collect()
}

/// What they sell.
pub fn offers() -> Vec<Offer> {
    let offer = |(place, &(product, supplier, pack, price, preferred))| {
        let prefix = ROWS.iter().find(|row| row.id == supplier).map_or("", |row| row.code);
        Offer {
            supplier: id(supplier),
            product: id(product),
            pack,
            price: Money::from_minor(price),
            code: Some(format!("{prefix}{}", 1010 + 7 * place)),
            minimum_packs: if pack == 1 && price < 1800 { 2 } else { 1 },
            preferred,
        }
    };
    OFFERS.iter().enumerate().map(offer).collect()
}
