//! A set to start from: job types of the trade, brand-free products, and what the ones take of the
//! others. Its numbers are common practice, from memory: they are there to be changed, and a
//! product's label and safety data sheet come before what is said of it here.

use capful_domain::catalog::ComesBack;
use capful_domain::{Amount, Facts, Form, Id, JobType, Product, Ratio, SheetRow, Shop};
use capful_domain::{Quantity, Unit, UnitSystem};
use rust_decimal::Decimal;

/// Stands in the notes of each product.
const NOTE: &str =
    "From the starting set, by common practice: look at label and safety data sheet.";

/// A product: id, name, group, what a container holds in metric and in US units.
#[derive(Clone, Copy)]
struct Item {
    id: &'static str,
    name: &'static str,
    category: &'static str,
    metric: (i64, Unit),
    us: (i64, Unit),
    form: Form,
    /// Days sealed, opened and mixed; 0 is no limit.
    days: (u32, u32, u32),
    /// Hundredths of a gram to the millilitre.
    density: i64,
    hazards: &'static str,
    protection: &'static str,
}

impl Item {
    const fn sized(mut self, metric: i64, us: i64) -> Self {
        self.metric.0 = metric;
        self.us.0 = us;
        self
    }

    /// Of a size that is sold in millilitres everywhere.
    const fn small(mut self, ml: i64) -> Self {
        self.metric.0 = ml;
        self.us = self.metric;
        self
    }

    const fn concentrate(mut self, mix_days: u32) -> Self {
        self.form = Form::Concentrate;
        self.days.2 = mix_days;
        self
    }

    const fn lasts(mut self, sealed: u32, opened: u32) -> Self {
        self.days.0 = sealed;
        self.days.1 = opened;
        self
    }

    const fn weighs(mut self, density: i64) -> Self {
        self.density = density;
        self
    }

    const fn careful(mut self, hazards: &'static str, protection: &'static str) -> Self {
        self.hazards = hazards;
        self.protection = protection;
        self
    }
}

/// Five litres, or a gallon.
const fn liquid(id: &'static str, name: &'static str, category: &'static str) -> Item {
    let (metric, us) = ((5000, Unit::Ml), (128, Unit::FlOz));
    let (form, days, density, hazards, protection) =
        (Form::ReadyToUse, (1095, 730, 0), 100, "", "");
    Item { id, name, category, metric, us, form, days, density, hazards, protection }
}

const fn pieces(id: &'static str, name: &'static str, category: &'static str, each: i64) -> Item {
    let item = liquid(id, name, category);
    Item { metric: (each, Unit::Each), us: (each, Unit::Each), days: (0, 0, 0), ..item }
}

// Hazards are common knowledge of such mixtures, on the careful side.
const IRRITANT: &str = "GHS07;H315;H319";
const CORROSIVE: &str = "GHS05;GHS07;H302;H314";
const SOLVENT: &str = "GHS02;GHS07;H225;H319;H336";
const COATING: &str = "GHS02;GHS07;GHS08;H226;H315;H317;H319;H335;H373";
const BREATHE: &str = "gloves;goggles;ventilation";

#[rustfmt::skip]
const PRODUCTS: [Item; 21] = [
    liquid("wash-shampoo", "Wash shampoo", "wash").concentrate(1).weighs(103)
        .careful(IRRITANT, "gloves"),
    liquid("snow-foam", "Snow foam", "wash").concentrate(7).weighs(104)
        .careful(IRRITANT, "gloves"),
    liquid("wheel-cleaner", "Wheel cleaner, neutral", "wash").weighs(103)
        .careful(IRRITANT, "gloves;goggles"),
    liquid("iron-remover", "Iron remover", "decontamination").lasts(730, 365).weighs(107)
        .careful("GHS07;H302;H317;H319", BREATHE),
    liquid("tar-remover", "Tar and adhesive remover", "decontamination").sized(1000, 32).weighs(79)
        .careful("GHS02;GHS07;GHS08;H226;H304;H315;H336", BREATHE),
    pieces("clay-bar", "Clay bar", "decontamination", 1),
    liquid("apc", "All-purpose cleaner", "cleaner").concentrate(30).weighs(105)
        .careful(CORROSIVE, "gloves;goggles"),
    liquid("degreaser", "Degreaser", "cleaner").concentrate(30).weighs(106)
        .careful(CORROSIVE, "gloves;goggles"),
    liquid("glass-cleaner", "Glass cleaner", "glass").weighs(98)
        .careful("GHS07;H319", "gloves"),
    liquid("interior-cleaner", "Interior cleaner", "interior").sized(1000, 32)
        .careful("GHS07;H319", "gloves"),
    liquid("leather-cleaner", "Leather cleaner", "interior").sized(500, 16).lasts(730, 365),
    liquid("leather-conditioner", "Leather conditioner", "interior").sized(500, 16)
        .lasts(730, 365).weighs(97),
    liquid("compound", "Cutting compound", "polish").sized(1000, 32).lasts(1095, 730).weighs(112)
        .careful("GHS07;H319", "gloves;goggles"),
    liquid("polish", "Finishing polish", "polish").sized(1000, 32).lasts(1095, 730).weighs(108)
        .careful("GHS07;H319", "gloves;goggles"),
    liquid("panel-wipe", "Panel wipe", "polish").sized(1000, 32).weighs(82)
        .careful(SOLVENT, BREATHE),
    liquid("paint-coating", "Paint coating", "coating").small(50).lasts(365, 14)
        .careful(COATING, "gloves;goggles;respirator;ventilation"),
    liquid("glass-coating", "Glass coating", "coating").small(50).lasts(365, 30).weighs(85)
        .careful(SOLVENT, "gloves;goggles;respirator;ventilation"),
    liquid("wheel-coating", "Wheel coating", "coating").small(50).lasts(365, 14)
        .careful(COATING, "gloves;goggles;respirator;ventilation"),
    liquid("tyre-dressing", "Tyre dressing", "dressing").weighs(99),
    pieces("sanding-disc", "Sanding disc, fine", "headlights", 50),
    pieces("nitrile-gloves", "Nitrile gloves", "supplies", 100),
];

/// A job type: id, name, and of each product that it takes how much (mL or pieces; of the mix
/// where there is water), parts of water, and in how many of a hundred jobs.
type Service = (&'static str, &'static str, &'static [(&'static str, i64, i64, i64)]);

#[rustfmt::skip]
const JOB_TYPES: [Service; 12] = [
    ("wash", "Maintenance wash", &[
        ("wash-shampoo", 30, 0, 100), ("snow-foam", 600, 10, 90), ("wheel-cleaner", 150, 0, 90),
        ("glass-cleaner", 50, 0, 100), ("tyre-dressing", 50, 0, 90),
    ]),
    ("decontamination", "Decontamination wash", &[
        ("wash-shampoo", 40, 0, 100), ("snow-foam", 900, 10, 100), ("wheel-cleaner", 200, 0, 90),
        ("iron-remover", 400, 0, 100), ("tar-remover", 60, 0, 75), ("clay-bar", 1, 0, 40),
        ("nitrile-gloves", 4, 0, 100),
    ]),
    ("one-step", "One-step polish", &[
        ("polish", 60, 0, 100), ("panel-wipe", 80, 0, 100), ("nitrile-gloves", 4, 0, 100),
    ]),
    ("two-step", "Two-step polish", &[
        ("compound", 90, 0, 100), ("polish", 60, 0, 100), ("panel-wipe", 120, 0, 100),
        ("nitrile-gloves", 6, 0, 100),
    ]),
    ("paint-coating", "Paint coating", &[
        ("paint-coating", 30, 0, 100), ("panel-wipe", 120, 0, 100), ("nitrile-gloves", 6, 0, 100),
    ]),
    ("glass-coating", "Glass coating", &[
        ("glass-coating", 10, 0, 100), ("glass-cleaner", 60, 0, 100), ("panel-wipe", 30, 0, 100),
        ("nitrile-gloves", 2, 0, 100),
    ]),
    ("wheel-coating", "Wheel-face coating", &[
        ("wheel-coating", 15, 0, 100), ("wheel-cleaner", 250, 0, 100),
        ("iron-remover", 150, 0, 100), ("panel-wipe", 60, 0, 100), ("nitrile-gloves", 4, 0, 100),
    ]),
    ("interior", "Interior clean", &[
        ("apc", 300, 10, 90), ("interior-cleaner", 100, 0, 100), ("glass-cleaner", 80, 0, 100),
        ("nitrile-gloves", 2, 0, 80),
    ]),
    ("leather", "Leather care", &[
        ("leather-cleaner", 80, 0, 100), ("leather-conditioner", 60, 0, 100),
        ("nitrile-gloves", 2, 0, 100),
    ]),
    ("engine-bay", "Engine bay", &[
        ("degreaser", 500, 10, 100), ("tyre-dressing", 40, 0, 60), ("nitrile-gloves", 2, 0, 100),
    ]),
    ("headlights", "Headlights", &[
        ("sanding-disc", 4, 0, 100), ("compound", 15, 0, 100), ("polish", 10, 0, 100),
        ("panel-wipe", 20, 0, 100), ("nitrile-gloves", 2, 0, 100),
    ]),
    ("coating-care", "Care of a coated vehicle", &[
        ("wash-shampoo", 30, 0, 100), ("snow-foam", 600, 10, 100), ("iron-remover", 150, 0, 40),
        ("wheel-cleaner", 100, 0, 80), ("glass-cleaner", 50, 0, 100),
    ]),
];

/// A coated vehicle comes back for care about every six months; more than half of them do.
const COMES_BACK: (&str, u32, i64, &str) = ("paint-coating", 180, 60, "coating-care");

/// The whole set, for a shop.
pub(super) fn all(shop: &Shop) -> Facts {
    let mut facts = Facts::new(shop.clone());
    facts.products = PRODUCTS.iter().filter_map(|item| product(item, shop.units)).collect();
    facts.job_types = JOB_TYPES.iter().filter_map(|(id, name, _)| job_type(id, name)).collect();
    let rows = JOB_TYPES.iter().flat_map(|(job_type, _, uses)| {
        uses.iter().filter_map(move |used| sheet_row(job_type, *used, shop.units))
    });
    facts.usage_sheet = rows.collect();
    facts
}

/// What was chosen of it and is not there yet: products, job types, and of the sheets of new job
/// types the rows whose product is there then, and measured so that they fit.
pub(super) fn chosen(
    shop: &Shop,
    products: impl Fn(&Id) -> bool,
    job_types: impl Fn(&Id) -> bool,
    there: impl Fn(&Id) -> Option<Product>,
    has_job_type: impl Fn(&Id) -> bool,
) -> Facts {
    let mut facts = all(shop);
    facts.products.retain(|own| there(&own.id).is_none() && products(&own.id));
    facts.job_types.retain(|own| !has_job_type(&own.id) && job_types(&own.id));
    let new: Vec<Id> = facts.job_types.iter().map(|own| own.id.clone()).collect();
    for own in &mut facts.job_types {
        let next = own.comes_back.as_ref().and_then(|back| back.job_type.clone());
        if next.is_some_and(|next| !new.contains(&next) && !has_job_type(&next)) {
            own.comes_back = None;
        }
    }
    let added = facts.products.clone();
    let find = |id: &Id| added.iter().find(|own| own.id == *id).cloned().or_else(|| there(id));
    facts.usage_sheet.retain(|row| {
        let fits = find(&row.product).is_some_and(|product| row.quantity(&product).is_ok());
        new.contains(&row.job_type) && fits
    });
    facts
}

fn product(item: &Item, units: UnitSystem) -> Option<Product> {
    let (number, unit) = match units {
        UnitSystem::Metric => item.metric,
        UnitSystem::Us => item.us,
    };
    let list = |text: &str| text.split_terminator(';').map(str::to_owned).collect();
    let limit = |days: u32| (days > 0).then_some(days);
    let is_liquid = unit != Unit::Each;
    let size = Amount { number: number.into(), unit };
    Some(Product {
        category: Some(item.category.to_owned()),
        form: item.form,
        shelf_days: limit(item.days.0),
        open_days: limit(item.days.1),
        mix_days: limit(item.days.2),
        density_g_ml: is_liquid.then(|| Decimal::new(item.density, 2).normalize()),
        hazards: list(item.hazards),
        protection: list(item.protection),
        notes: Some(NOTE.to_owned()),
        ..Product::new(Id::parse(item.id).ok()?, item.name, size)
    })
}

fn job_type(id: &str, name: &str) -> Option<JobType> {
    let (of, days, share, next) = COMES_BACK;
    let comes_back = (of == id).then(|| ComesBack {
        days,
        share: Decimal::new(share, 2).normalize(),
        job_type: Id::parse(next).ok(),
    });
    let (id, name) = (Id::parse(id).ok()?, name.to_owned());
    Some(JobType { id, name, price: None, stall_cost: None, comes_back })
}

fn sheet_row(
    job_type: &str,
    (product, number, water, share): (&str, i64, i64, i64),
    units: UnitSystem,
) -> Option<SheetRow> {
    let item = PRODUCTS.iter().find(|item| item.id == product)?;
    let in_ml = Amount { number: number.into(), unit: Unit::Ml };
    let amount = match (item.metric.1, item.us.1, units) {
        (Unit::Each, ..) => Amount { unit: Unit::Each, ..in_ml },
        (_, Unit::FlOz, UnitSystem::Us) => to_ounces(in_ml)?,
        _ => in_ml,
    };
    Some(SheetRow {
        job_type: Id::parse(job_type).ok()?,
        product: Id::parse(product).ok()?,
        amount,
        ratio: if water > 0 { Ratio::from_water(water.into()).ok() } else { None },
        share_of_jobs: (share < 100).then(|| Decimal::new(share, 2).normalize()),
        log_sd: None,
    })
}

/// To the nearest quarter of a fluid ounce, as it is measured out.
fn to_ounces(in_ml: Amount) -> Option<Amount> {
    let quantity = Quantity::from_unit(in_ml.number, in_ml.unit).ok()?;
    let quarters = (quantity.in_unit(Unit::FlOz) * Decimal::from(4)).round().max(Decimal::ONE);
    Some(Amount { number: (quarters / Decimal::from(4)).normalize(), unit: Unit::FlOz })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn shop(units: UnitSystem) -> Shop {
        let currency = capful_domain::Currency::parse("CAD").unwrap();
        Shop { units, ..Shop::new("Two Gulls", "America/Halifax".parse().unwrap(), currency) }
    }

    #[test]
    fn the_set_is_a_shop_folder_in_both_units() {
        for units in [UnitSystem::Metric, UnitSystem::Us] {
            let facts = all(&shop(units));
            assert_eq!(facts.products.len(), PRODUCTS.len());
            assert_eq!(facts.job_types.len(), JOB_TYPES.len());
            let rows: usize = JOB_TYPES.iter().map(|(_, _, uses)| uses.len()).sum();
            assert_eq!(facts.usage_sheet.len(), rows);
            let files = capful_folder::to_files(&facts).into_iter();
            let files = files.map(|(name, bytes)| (name.to_string(), bytes)).collect();
            let read = capful_folder::read_files(&files).unwrap();
            assert_eq!(read.warnings, Vec::new());
            assert_eq!(read.facts, facts);
        }
    }

    #[test]
    fn every_product_is_taken_by_a_job_type() {
        let facts = all(&shop(UnitSystem::Metric));
        for product in &facts.products {
            assert!(facts.usage_sheet.iter().any(|row| row.product == product.id), "{product:?}");
        }
    }

    #[test]
    fn quarters_of_an_ounce_are_measured_out() {
        let of = |ml: i64| to_ounces(Amount { number: ml.into(), unit: Unit::Ml }).unwrap().number;
        assert_eq!(of(30), Decimal::ONE);
        assert_eq!(of(600), Decimal::new(2025, 2));
        assert_eq!(of(1), Decimal::new(25, 2));
    }

    #[test]
    fn what_is_there_stays_and_what_is_not_chosen_stays_away() {
        let shop = shop(UnitSystem::Metric);
        let own = all(&shop).products.into_iter().find(|own| own.id.as_str() == "polish").unwrap();
        let own = Product { unit: Unit::Each, ..own };
        let facts = chosen(
            &shop,
            |id| id.as_str() != "compound",
            |id| ["two-step", "paint-coating"].contains(&id.as_str()),
            |id| (*id == own.id).then(|| own.clone()),
            |_| false,
        );
        let has = |id: &str| facts.products.iter().any(|own| own.id.as_str() == id);
        assert!(has("panel-wipe") && !has("compound") && !has("polish"));
        assert!(facts.job_types.iter().all(|own| own.comes_back.is_none()));
        let rows = facts.usage_sheet.iter().filter(|row| row.job_type.as_str() == "two-step");
        let rows: Vec<&str> = rows.map(|row| row.product.as_str()).collect();
        assert_eq!(rows, ["panel-wipe", "nitrile-gloves"]);
    }
}
