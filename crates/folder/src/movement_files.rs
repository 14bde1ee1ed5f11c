//! `pours.csv`, `receipts.csv`, `openings.csv`, `discards.csv`, `mixes.csv` and `counts.csv`.

use capful_domain::facts::{Count, Discard, Mix, Opening, Pour, Receipt};
use capful_domain::{Amount, ContainerId, Id, Ratio, Word};

use crate::cells::{self, write_day};
use crate::folder_row::{FolderRow, Pen, or_empty};
use crate::references::References;
use crate::row::Row;
use crate::table::File;

impl Row<'_> {
    fn product(&mut self, references: &References) -> Option<Id> {
        self.required("product", |text| references.product(text))
    }

    fn container(&mut self, product: Option<&Id>, references: &References) -> Option<ContainerId> {
        self.optional("container", |text| references.container(text, product))
    }
}

/// The cells `quantity` and `unit` of an amount that may be missing.
fn amount_cells(amount: Option<Amount>) -> [String; 2] {
    [or_empty(amount.map(|a| a.number)), or_empty(amount.map(|a| a.unit))]
}

impl FolderRow for Pour {
    const FILE: File = File {
        name: "pours.csv",
        columns: &[
            "id",
            "at",
            "product",
            "quantity",
            "unit",
            "job?",
            "water?",
            "container?",
            "method?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let amount = row.required_amount(product.as_ref(), references);
        let job = row.optional("job", |text| references.job(text));
        let ratio = row.optional("water", cells::ratio);
        let container = row.container(product.as_ref(), references);
        let method = row.optional("method", cells::word);
        row.sound()?;
        let (id, at, product, amount) = (id?, at?, product?, amount?);
        Some(Self { id, at, product, amount, job, ratio, container, method })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let [quantity, unit] = amount_cells(Some(self.amount));
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            quantity,
            unit,
            or_empty(self.job.as_ref()),
            or_empty(self.ratio.map(Ratio::water)),
            or_empty(self.container.as_ref()),
            or_empty(self.method.map(Word::word)),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Receipt {
    const FILE: File = File {
        name: "receipts.csv",
        columns: &[
            "id",
            "at",
            "product",
            "containers",
            "unit_cost",
            "supplier?",
            "lot?",
            "best_before?",
            "order?",
            "container_size?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let containers = row.required("containers", cells::containers);
        let unit_cost = row.required_money("unit_cost");
        let supplier = row.optional("supplier", |text| references.supplier(text));
        let lot = row.optional_text("lot", cells::text);
        let best_before = row.optional("best_before", cells::day);
        let order = row.optional("order", |text| references.order(text));
        let container_size = row.optional("container_size", cells::decimal_above_zero);
        let measure = product.as_ref().and_then(|product| references.measure(product));
        if let Some((measure, number)) = measure.zip(container_size) {
            row.container_holds(measure, Amount { number, unit: measure.unit });
        }
        row.sound()?;
        Some(Self {
            id: id?,
            at: at?,
            product: product?,
            containers: containers?,
            unit_cost: unit_cost?,
            supplier,
            lot,
            best_before,
            order,
            container_size,
        })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            self.containers.to_string(),
            pen.money(self.unit_cost),
            or_empty(self.supplier.as_ref()),
            pen.optional_text(self.lot.as_deref()),
            or_empty(self.best_before.map(write_day)),
            or_empty(self.order.as_ref()),
            or_empty(self.container_size),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Opening {
    const FILE: File =
        File { name: "openings.csv", columns: &["id", "at", "product", "container?"] };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let container = row.container(product.as_ref(), references);
        row.sound()?;
        Some(Self { id: id?, at: at?, product: product?, container })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            or_empty(self.container.as_ref()),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Discard {
    const FILE: File = File {
        name: "discards.csv",
        columns: &["id", "at", "product", "quantity?", "unit?", "container?", "reason?"],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let amount = row.optional_amount(product.as_ref(), references);
        let container = row.container(product.as_ref(), references);
        let reason = row.optional("reason", cells::word);
        row.sound()?;
        Some(Self { id: id?, at: at?, product: product?, amount, container, reason })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let [quantity, unit] = amount_cells(self.amount);
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            quantity,
            unit,
            or_empty(self.container.as_ref()),
            or_empty(self.reason.map(Word::word)),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Mix {
    const FILE: File = File {
        name: "mixes.csv",
        columns: &["id", "at", "product", "quantity", "unit", "water", "container?"],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let amount = row.required_amount(product.as_ref(), references);
        let ratio = row.required("water", cells::ratio);
        let container = row.container(product.as_ref(), references);
        row.sound()?;
        let (id, at, product) = (id?, at?, product?);
        Some(Self { id, at, product, amount: amount?, ratio: ratio?, container })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let [quantity, unit] = amount_cells(Some(self.amount));
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            quantity,
            unit,
            self.ratio.water().to_string(),
            or_empty(self.container.as_ref()),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for Count {
    const FILE: File = File {
        name: "counts.csv",
        columns: &[
            "id",
            "at",
            "product",
            "quantity?",
            "unit?",
            "gross_g?",
            "container?",
            "sealed?",
            "sd_share?",
        ],
    };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let at = row.required_time("at");
        let product = row.product(references);
        let amount = row.optional_amount(product.as_ref(), references);
        let gross_g = row.gross_g(product.as_ref(), references);
        if row.has("quantity") && row.has("gross_g") {
            row.wrong("gross_g", "nothing, as a quantity is given");
        }
        if !["quantity", "gross_g", "sealed"].into_iter().any(|column| row.has(column)) {
            row.wrong("quantity", "a quantity, or gross_g or sealed");
        }
        let container = row.container(product.as_ref(), references);
        let sealed = row.optional("sealed", cells::containers_or_none);
        let sd_share = row.optional("sd_share", cells::share);
        row.sound()?;
        let (id, at, product) = (id?, at?, product?);
        Some(Self { id, at, product, amount, gross_g, container, sealed, sd_share })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        let [quantity, unit] = amount_cells(self.amount);
        vec![
            self.id.to_string(),
            pen.time(self.at),
            self.product.to_string(),
            quantity,
            unit,
            or_empty(self.gross_g),
            or_empty(self.container.as_ref()),
            or_empty(self.sealed),
            or_empty(self.sd_share),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}
