//! The shelf of the demo shop: invented, brand-free products with the figures of the trade.

use capful_domain::catalog::NamedRatio;
use capful_domain::{Amount, Form, Product, Ratio, Unit};
use rust_decimal::Decimal;

use crate::id;

/// One line of the table below.
#[derive(Clone, Copy)]
struct Row {
    id: &'static str,
    name: &'static str,
    size: i64,
    unit: Unit,
    category: &'static str,
    form: Form,
    shelf_days: Option<u32>,
    open_days: Option<u32>,
    mix_days: Option<u32>,
    density_hundredths: Option<i64>,
    tare_g: Option<i64>,
    item: Option<u64>,
    hazards: &'static str,
    protection: &'static str,
    substitutes: &'static str,
    notes: &'static str,
}

impl Row {
    const fn new(
        id: &'static str,
        name: &'static str,
        size: i64,
        unit: Unit,
        category: &'static str,
    ) -> Self {
        Self {
            id,
            name,
            size,
            unit,
            category,
            form: Form::ReadyToUse,
            shelf_days: None,
            open_days: None,
            mix_days: None,
            density_hundredths: None,
            tare_g: None,
            item: None,
            hazards: "",
            protection: "",
            substitutes: "",
            notes: "",
        }
    }

    /// Life sealed.
    const fn shelf(mut self, days: u32) -> Self {
        self.shelf_days = Some(days);
        self
    }

    /// Life once opened.
    const fn open(mut self, days: u32) -> Self {
        self.open_days = Some(days);
        self
    }

    /// A concentrate, and the life of its mix.
    const fn concentrate(mut self, mix_days: u32) -> Self {
        self.form = Form::Concentrate;
        self.mix_days = Some(mix_days);
        self
    }

    /// Density in hundredths of a gram to the millilitre, and the empty container in grams.
    const fn weighs(mut self, density_hundredths: i64, tare_g: i64) -> Self {
        self.density_hundredths = Some(density_hundredths);
        self.tare_g = Some(tare_g);
        self
    }

    /// Item number behind the prefix for use inside a shop.
    const fn barcode(mut self, item: u64) -> Self {
        self.item = Some(item);
        self
    }

    const fn hazards(mut self, hazards: &'static str, protection: &'static str) -> Self {
        self.hazards = hazards;
        self.protection = protection;
        self
    }

    const fn instead(mut self, substitutes: &'static str) -> Self {
        self.substitutes = substitutes;
        self
    }

    const fn note(mut self, notes: &'static str) -> Self {
        self.notes = notes;
        self
    }
}

const fn liquid(id: &'static str, name: &'static str, ml: i64, category: &'static str) -> Row {
    Row::new(id, name, ml, Unit::Ml, category)
}

const fn pieces(id: &'static str, name: &'static str, each: i64, category: &'static str) -> Row {
    Row::new(id, name, each, Unit::Each, category)
}

// Hazards are common knowledge of such mixtures, on the careful side; a bottle says its own.
const IRRITANT: &str = "GHS07;H315;H319";
const SOLVENT: &str = "GHS02;GHS07;H225;H319;H336";
const COATING: &str = "GHS02;GHS07;GHS08;H226;H315;H317;H319;H335;H373";

#[rustfmt::skip]
const ROWS: [Row; 36] = [
    liquid("wash-shampoo", "Wash shampoo concentrate, 5 L", 5000, "wash")
        .concentrate(1).shelf(1095).open(730).weighs(103, 230).barcode(1001)
        .hazards(IRRITANT, "gloves").instead("snow-foam"),
    liquid("snow-foam", "Snow foam concentrate, 5 L", 5000, "wash")
        .concentrate(7).shelf(1095).open(730).weighs(104, 230).barcode(1002)
        .hazards(IRRITANT, "gloves"),
    liquid("iron-remover", "Iron remover, 5 L", 5000, "decontamination")
        .shelf(730).open(365).weighs(107, 235).barcode(1003)
        .hazards("GHS07;H302;H317;H319", "gloves;goggles;ventilation")
        .note("Never on hot panels. Smells: doors open."),
    liquid("tar-remover", "Tar and adhesive remover, 1 L", 1000, "decontamination")
        .shelf(1095).open(730).weighs(79, 96).barcode(1004)
        .hazards("GHS02;GHS07;GHS08;H226;H304;H315;H336", "gloves;goggles;ventilation"),
    liquid("apc", "All-purpose cleaner concentrate, 5 L", 5000, "cleaner")
        .concentrate(30).shelf(1095).open(730).weighs(105, 230).barcode(1005)
        .hazards("GHS05;H314;H318", "gloves;goggles").instead("degreaser"),
    liquid("degreaser", "Degreaser concentrate, 5 L", 5000, "cleaner")
        .concentrate(30).shelf(1095).open(730).weighs(106, 230).barcode(1006)
        .hazards("GHS05;GHS07;H302;H314;H318", "gloves;goggles").instead("apc"),
    liquid("wheel-cleaner", "Wheel cleaner, acid-free, 5 L", 5000, "wheels")
        .shelf(730).open(545).weighs(104, 230).barcode(1007)
        .hazards(IRRITANT, "gloves;goggles").instead("apc"),
    liquid("wheel-acid", "Wheel cleaner, acidic, 1 L", 1000, "wheels")
        .shelf(730).open(365).weighs(110, 92).barcode(1008)
        .hazards("GHS05;GHS07;H290;H302;H314;H335", "gloves;goggles;ventilation")
        .instead("wheel-cleaner")
        .note("Never on bare or polished metal. Never near bleach. Rinse within a minute."),
    liquid("clay-lube", "Clay lubricant concentrate, 1 L", 1000, "decontamination")
        .concentrate(21).shelf(730).open(545).weighs(101, 88).instead("quick-detailer"),
    liquid("cutting-compound", "Cutting compound, 1 L", 1000, "polish")
        .shelf(730).open(545).weighs(118, 104).barcode(1010)
        .hazards("GHS07;H317", "gloves"),
    liquid("medium-polish", "Medium polish, 1 L", 1000, "polish")
        .shelf(730).open(545).weighs(115, 104).barcode(1011)
        .hazards("GHS07;H317", "gloves").instead("cutting-compound;finishing-polish"),
    liquid("finishing-polish", "Finishing polish, 500 mL", 500, "polish")
        .shelf(730).open(545).weighs(112, 62).barcode(1012)
        .hazards("GHS07;H317", "gloves"),
    liquid("panel-wipe", "Panel wipe, solvent, 1 L", 1000, "polish")
        .shelf(1095).weighs(79, 94).barcode(1013)
        .hazards(SOLVENT, "gloves;goggles;ventilation"),
    liquid("paint-coating-50", "Silica paint coating, 50 mL", 50, "coating")
        .shelf(365).open(21).weighs(102, 31).barcode(1014)
        .hazards(COATING, "gloves;goggles;respirator;ventilation")
        .note("Starts to cure when the seal breaks. Wipe the neck, close at once."),
    liquid("wheel-coating-30", "Wheel-face coating, 30 mL", 30, "coating")
        .shelf(365).open(28).weighs(104, 24).barcode(1015)
        .hazards(COATING, "gloves;goggles;respirator;ventilation")
        .instead("paint-coating-50"),
    liquid("glass-coating-50", "Glass coating, 50 mL", 50, "coating")
        .shelf(540).open(30).weighs(81, 31).barcode(1016)
        .hazards("GHS02;GHS05;GHS07;H225;H318;H336", "gloves;goggles;ventilation"),
    liquid("glass-cleaner", "Glass cleaner, 5 L", 5000, "glass")
        .shelf(730).weighs(98, 228).barcode(1017)
        .hazards("GHS07;H319", "gloves"),
    liquid("trim-restorer", "Trim restorer, 250 mL", 250, "finish")
        .shelf(730).open(180).weighs(97, 36).barcode(1018)
        .hazards("GHS02;GHS07;H226;H315;H319", "gloves;ventilation"),
    liquid("tyre-dressing", "Tyre dressing, 5 L", 5000, "finish")
        .shelf(730).open(545).weighs(99, 230).barcode(1019).hazards("H412", "gloves"),
    liquid("leather-cleaner", "Leather cleaner, 1 L", 1000, "interior")
        .shelf(730).open(365).weighs(101, 88).barcode(1020)
        .hazards("GHS07;H319", "gloves").instead("interior-detailer"),
    liquid("leather-cream", "Leather cream, 500 mL", 500, "interior")
        .shelf(730).open(365).weighs(98, 58),
    liquid("fabric-protectant", "Fabric protectant, 1 L", 1000, "interior")
        .shelf(730).open(365).weighs(96, 92).barcode(1022)
        .hazards("GHS02;GHS07;H226;H336", "gloves;respirator;ventilation"),
    liquid("interior-detailer", "Interior detailer, 5 L", 5000, "interior")
        .shelf(730).open(545).weighs(100, 228).barcode(1023).instead("apc"),
    pieces("odour-fogger", "Odour fogger can", 1, "interior")
        .shelf(1095).barcode(1024).hazards("GHS02;GHS07;H222;H229;H319", "ventilation"),
    liquid("engine-dressing", "Engine bay dressing, 1 L", 1000, "finish")
        .shelf(730).open(545).weighs(100, 90).instead("tyre-dressing"),
    liquid("spray-wax", "Spray wax, 1 L", 1000, "finish")
        .shelf(730).open(365).weighs(98, 90).barcode(1026).instead("quick-detailer"),
    liquid("quick-detailer", "Quick detailer, 5 L", 5000, "finish")
        .shelf(730).open(545).weighs(100, 228).barcode(1027).instead("spray-wax"),
    liquid("care-spray", "Coating care spray, 500 mL", 500, "finish")
        .shelf(540).open(270).weighs(99, 48).barcode(1028).instead("spray-wax"),
    pieces("drying-towel", "Drying towel", 1, "cloth").barcode(1029),
    pieces("microfibre-cloth", "Microfibre cloth, bag of 50", 50, "cloth").barcode(1030),
    pieces("clay-bar", "Clay bar, 100 g", 1, "decontamination").shelf(1095).barcode(1031),
    pieces("cutting-pad", "Cutting pad, 150 mm", 1, "pad").instead("polishing-pad"),
    pieces("polishing-pad", "Polishing pad, 150 mm", 1, "pad"),
    Row::new("masking-tape", "Masking tape, 50 m", 50, Unit::M, "sundry").shelf(730),
    pieces("nitrile-gloves", "Nitrile gloves, box of 100", 100, "sundry")
        .shelf(1825).barcode(1035),
    liquid("water-spot-remover", "Water spot remover, 500 mL", 500, "decontamination")
        .shelf(730).open(365).weighs(106, 52)
        .hazards("GHS05;H290;H315;H318", "gloves;goggles"),
];

/// Product, what the shop calls it, parts of water.
const RATIOS: [(&str, &str, i64); 12] = [
    ("wash-shampoo", "bucket", 200),
    ("snow-foam", "lance", 10),
    ("apc", "heavy", 4),
    ("apc", "interior", 10),
    ("apc", "light", 20),
    ("degreaser", "engine", 4),
    ("degreaser", "wheels and arches", 8),
    ("degreaser", "light", 15),
    ("clay-lube", "clay", 15),
    ("wash-shampoo", "foam pre-wash", 40),
    ("snow-foam", "hand sprayer", 20),
    ("clay-lube", "rinse aid", 60),
];

/// Every product.
pub fn products() -> Vec<Product> {
    ROWS.iter().map(product).collect()
}

/// The ratios that the concentrates are used at.
pub fn ratios() -> Vec<NamedRatio> {
    let row = |&(product, label, water): &(&str, &str, i64)| NamedRatio {
        product: id(product),
        label: label.to_owned(),
        ratio: ratio(water),
    };
    RATIOS.iter().map(row).collect()
}

/// Parts of water to one part of product, as the tables write them.
pub fn ratio(water: i64) -> Ratio {
    Ratio::from_water(Decimal::from(water)).unwrap_or(Ratio::NEAT)
}

fn product(row: &Row) -> Product {
    let size = Amount { number: Decimal::from(row.size), unit: row.unit };
    let words = |text: &str| -> Vec<String> {
        text.split(';').filter(|word| !word.is_empty()).map(str::to_owned).collect()
    };
    Product {
        category: Some(row.category.to_owned()),
        form: row.form,
        shelf_days: row.shelf_days,
        open_days: row.open_days,
        mix_days: row.mix_days,
        density_g_ml: row.density_hundredths.map(|d| Decimal::new(d, 2).normalize()),
        tare_g: row.tare_g.map(Decimal::from),
        gtin: row.item.map(gtin),
        hazards: words(row.hazards),
        protection: words(row.protection),
        substitutes: words(row.substitutes).iter().map(|text| id(text)).collect(),
        notes: Some(row.notes.to_owned()).filter(|text| !text.is_empty()),
        ..Product::new(id(row.id), row.name, size)
    }
}

/// A GTIN-13 out of the numbers kept for use inside a shop (prefix 29), so that it is nobody's.
fn gtin(item: u64) -> String {
    let digits = format!("29{item:010}");
    let sum: u32 = digits
        .bytes()
        .zip([1, 3].into_iter().cycle())
        .map(|(digit, weight)| u32::from(digit - b'0') * weight)
        .sum();
    format!("{digits}{}", (10 - sum % 10) % 10)
}
