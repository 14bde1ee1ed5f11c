//! `orders.csv` and `order_lines.csv`.

use capful_domain::Word;
use capful_domain::facts::{Order, OrderLine};

use crate::cells;
use crate::folder_row::{FolderRow, Pen, or_empty};
use crate::references::References;
use crate::row::Row;
use crate::table::File;

impl FolderRow for Order {
    const FILE: File =
        File { name: "orders.csv", columns: &["id", "placed_at", "supplier", "status?"] };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let id = row.id();
        let placed_at = row.required_time("placed_at");
        let supplier = row.required("supplier", |t| references.supplier(t));
        let status = row.optional("status", cells::word);
        row.sound()?;
        Some(Self { id: id?, placed_at: placed_at?, supplier: supplier?, status })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.id.to_string(),
            pen.time(self.placed_at),
            self.supplier.to_string(),
            or_empty(self.status.map(Word::word)),
        ]
    }

    fn key(&self) -> String {
        self.id.to_string()
    }
}

impl FolderRow for OrderLine {
    const FILE: File =
        File { name: "order_lines.csv", columns: &["order", "product", "packs", "supplier_code?"] };

    fn read(row: &mut Row, references: &References) -> Option<Self> {
        let order = row.required("order", |t| references.order(t));
        let product = row.required("product", |t| references.product(t));
        let packs = row.required("packs", cells::containers);
        let supplier_code = row.optional_text("supplier_code", cells::text);
        row.sound()?;
        Some(Self { order: order?, product: product?, packs: packs?, supplier_code })
    }

    fn write(&self, pen: &Pen) -> Vec<String> {
        vec![
            self.order.to_string(),
            self.product.to_string(),
            self.packs.to_string(),
            pen.optional_text(self.supplier_code.as_deref()),
        ]
    }

    fn key(&self) -> String {
        format!("{}, {}", self.order, self.product)
    }
}
