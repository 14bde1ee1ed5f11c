//! `products.csv`, `ratios.csv`, `suppliers.csv`, `offers.csv`, `job_types.csv` and
//! `usage_sheet.csv`.

use capful_domain::catalog::ComesBack;
use capful_domain::{
    Amount, Form, Id, JobType, Money, NamedRatio, Offer, Product, Ratio, SheetRow, Supplier, Word,
};

use crate::cells;
use crate::folder_row::{FolderRow, Pen, or_empty};
use crate::references::References;
use crate::row::Row;
use crate::table::File;

/// The words of the column `protection`.
const PROTECTION: [&str; 4] = ["gloves", "goggles", "respirator", "ventilation"];

impl FolderRow for Product {
    const FILE: File = File {
        name: "products.csv",
        columns: &[
            "id",
            "name",
            "unit",
            "container_size",
            "category?",
            "form?",
            "shelf_days?",
            "open_days?",
            "mix_days?",
            "density_g_ml?",
            "tare_g?",
            "gtin?",
            "hazards?",
            "protection?",
            "substitutes?",
            "notes?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let name = row.required_text("name", cells::text);
        let unit = row.required("unit", cells::unit);
        let number = row.required("container_size", cells::decimal_above_zero);
        let category = row.optional_text("category", cells::text);
        let form = row.optional("form", cells::word);
        let shelf_days = row.optional("shelf_days", cells::days);
        let open_days = row.optional("open_days", cells::days);
        let mix_days = row.optional("mix_days", cells::days);
        let density_g_ml = row.optional("density_g_ml", cells::decimal_above_zero);
        let tare_g = row.optional("tare_g", cells::grams);
        let gtin = row.optional("gtin", cells::gtin);
        let hazards = words(row, "hazards", "no GHS pictogram code or H-statement", is_hazard);
        let protection = words(row, "protection", "not one of the known words", is_protection);
        let substitutes =
            row.optional("substitutes", |t| cells::list(t, |item| references.product(item)));
        let substitutes = substitutes.unwrap_or_default();
        if id.as_ref().is_some_and(|id| substitutes.contains(id)) {
            row.wrong("substitutes", "other products than itself");
        }
        let notes = row.optional_text("notes", cells::notes);
        let container_size = Amount { number: number?, unit: unit? };
        let product = Self {
            category,
            form: form.unwrap_or(Form::ReadyToUse),
            shelf_days,
            open_days,
            mix_days,
            density_g_ml,
            tare_g,
            gtin,
            hazards,
            protection,
            substitutes,
            notes,
            ..Self::new(id?, &name?, container_size)
        };
        row.container_holds(&product, container_size);
        row.sound().map(|()| product)
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.id.to_string(),
            pen.text(&self.name),
            self.unit.to_string(),
            self.container_size.number.to_string(),
            pen.optional_text(self.category.as_deref()),
            self.form.word().to_owned(),
            or_empty(self.shelf_days),
            or_empty(self.open_days),
            or_empty(self.mix_days),
            or_empty(self.density_g_ml),
            or_empty(self.tare_g),
            or_empty(self.gtin.as_ref()),
            pen.text(&self.hazards.join(";")),
            pen.text(&self.protection.join(";")),
            ids(&self.substitutes),
            pen.optional_text(self.notes.as_deref()),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

/// A list of words, each odd one of which is warned of.
fn words(row: &mut Row, column: &str, odd: &str, known: fn(&str) -> bool) -> Vec<String> {
    let words = row.optional_text(column, |t| cells::list(t, cells::text)).unwrap_or_default();
    for word in words.iter().filter(|word| !known(word)) {
        row.warn(column, &format!("{word:?} is {odd}, kept as it is"));
    }
    words
}

fn is_protection(word: &str) -> bool {
    PROTECTION.contains(&word)
}

/// `GHS01` to `GHS09`; `H225`, `H360FD`, `EUH066`, and such joined by `+`.
fn is_hazard(code: &str) -> bool {
    let statement = |part: &str| {
        let rest = part.trim().trim_start_matches("EU").strip_prefix('H').unwrap_or_default();
        let number = rest.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        number.len() == 3 && number.bytes().all(|b| b.is_ascii_digit())
    };
    let pictogram = matches!(code.strip_prefix("GHS0"), Some(n) if ("1"..="9").contains(&n));
    (pictogram && code.len() == 5) || code.split('+').all(statement)
}

/// Ids with `;` between.
pub(crate) fn ids(ids: &[Id]) -> String {
    ids.iter().map(Id::as_str).collect::<Vec<_>>().join(";")
}

impl FolderRow for NamedRatio {
    const FILE: File = File { name: "ratios.csv", columns: &["product", "label", "water"] };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let product = row.required("product", |t| references.product(t));
        let label = row.required_text("label", cells::text);
        let ratio = row.required("water", cells::ratio);
        let ratio = Self { product: product?, label: label?, ratio: ratio? };
        row.unique("label", ratio.key(), "a label of this product");
        row.sound().map(|()| ratio)
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![self.product.to_string(), pen.text(&self.label), self.ratio.water().to_string()]
    }

    fn key(&self) -> String {
        format!("{}, {}", self.product, self.label)
    }
}

impl FolderRow for Supplier {
    const FILE: File = File {
        name: "suppliers.csv",
        columns: &[
            "id",
            "name",
            "lead_days",
            "lead_days_sd?",
            "order_weekdays?",
            "freight?",
            "free_freight_over?",
            "minimum_order?",
        ],
    };

    fn read(row: &mut Row, _: &References) -> Option<Self> {
        let id = row.id();
        let name = row.required_text("name", cells::text);
        let lead_days = row.required("lead_days", cells::days_and_parts);
        let lead_days_sd = row.optional("lead_days_sd", cells::days_and_parts);
        let order_weekdays = row.optional("order_weekdays", |t| cells::list(t, cells::word));
        let freight = row.optional_money("freight");
        let free_freight_over = row.optional_money("free_freight_over");
        let minimum_order = row.optional_money("minimum_order");
        row.sound()?;
        Some(Self {
            id: id?,
            name: name?,
            lead_days: lead_days?,
            lead_days_sd,
            order_weekdays: order_weekdays.unwrap_or_default(),
            freight: freight.unwrap_or_default(),
            free_freight_over,
            minimum_order: minimum_order.unwrap_or_default(),
        })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let weekdays = self.order_weekdays.iter().map(|day| day.word());
        let unless_zero = |money: Money| (money != Money::ZERO).then_some(money);
        vec![
            self.id.to_string(),
            pen.text(&self.name),
            self.lead_days.to_string(),
            or_empty(self.lead_days_sd),
            weekdays.collect::<Vec<_>>().join(";"),
            pen.optional_money(unless_zero(self.freight)),
            pen.optional_money(self.free_freight_over),
            pen.optional_money(unless_zero(self.minimum_order)),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Offer {
    const FILE: File = File {
        name: "offers.csv",
        columns: &["supplier", "product", "pack", "price", "code?", "minimum_packs?", "preferred?"],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let supplier = row.required("supplier", |t| references.supplier(t));
        let product = row.required("product", |t| references.product(t));
        let pack = row.required("pack", cells::containers);
        let price = row.required_money("price");
        let code = row.optional_text("code", cells::text);
        let minimum_packs = row.optional("minimum_packs", cells::containers);
        let preferred = row.optional("preferred", cells::yes);
        let offer = Self {
            supplier: supplier?,
            product: product?,
            pack: pack?,
            price: price?,
            code,
            minimum_packs: minimum_packs.unwrap_or(1),
            preferred: preferred.unwrap_or(false),
        };
        row.unique("pack", offer.key(), "a pack of this product and supplier");
        row.sound().map(|()| offer)
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.supplier.to_string(),
            self.product.to_string(),
            self.pack.to_string(),
            pen.money(self.price),
            pen.optional_text(self.code.as_deref()),
            or_empty((self.minimum_packs != 1).then_some(self.minimum_packs)),
            or_empty(self.preferred.then_some("yes")),
        ]
    }

    fn key(&self) -> String {
        format!("{}, {}, {}", self.supplier, self.product, self.pack)
    }
}

impl FolderRow for JobType {
    const FILE: File = File {
        name: "job_types.csv",
        columns: &[
            "id",
            "name",
            "price?",
            "stall_cost?",
            "return_days?",
            "return_share?",
            "return_job_type?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let name = row.required_text("name", cells::text);
        let price = row.optional_money("price");
        let stall_cost = row.optional_money("stall_cost");
        let days = row.optional("return_days", cells::days_from_one);
        let share = row.optional("return_share", cells::share);
        let job_type = row.optional("return_job_type", |t| references.job_type(t));
        let returns = ["return_days", "return_share", "return_job_type"];
        if returns.into_iter().any(|column| row.has(column)) {
            for column in &returns[..2] {
                if !row.has(column) {
                    row.wrong(column, "a number, as other columns say that these jobs come back");
                }
            }
        }
        row.sound()?;
        let comes_back = days.zip(share).map(|(days, share)| ComesBack { days, share, job_type });
        Some(Self { id: id?, name: name?, price, stall_cost, comes_back })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let back = self.comes_back.as_ref();
        vec![
            self.id.to_string(),
            pen.text(&self.name),
            pen.optional_money(self.price),
            pen.optional_money(self.stall_cost),
            or_empty(back.map(|back| back.days)),
            or_empty(back.map(|back| back.share)),
            or_empty(back.and_then(|back| back.job_type.as_ref())),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for SheetRow {
    const FILE: File = File {
        name: "usage_sheet.csv",
        columns: &[
            "job_type",
            "product",
            "quantity",
            "unit",
            "water?",
            "share_of_jobs?",
            "log_sd?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let job_type = row.required("job_type", |t| references.job_type(t));
        let product = row.required("product", |t| references.product(t));
        let amount = row.required_amount(product.as_ref(), references);
        let ratio = row.optional("water", cells::ratio);
        let share_of_jobs = row.optional("share_of_jobs", cells::share);
        let log_sd = row.optional("log_sd", cells::decimal_above_zero);
        let (job_type, product, amount) = (job_type?, product?, amount?);
        let sheet_row = Self { job_type, product, amount, ratio, share_of_jobs, log_sd };
        row.unique("product", sheet_row.key(), "a product of this job type at this ratio");
        row.sound().map(|()| sheet_row)
    }

    fn write(&self, _: &Pen) -> Vec<String> {
        vec![
            self.job_type.to_string(),
            self.product.to_string(),
            self.amount.number.to_string(),
            self.amount.unit.to_string(),
            or_empty(self.ratio.map(Ratio::water)),
            or_empty(self.share_of_jobs),
            or_empty(self.log_sd),
        ]
    }

    fn key(&self) -> String {
        format!("{}, {}, {}", self.job_type, self.product, self.ratio.unwrap_or(Ratio::NEAT))
    }
}
