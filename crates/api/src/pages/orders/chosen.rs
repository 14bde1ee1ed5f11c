//! What the owner chose of the weekly order: packs for each line, as they were typed.

use crate::pages::form::Fields;
use crate::pages::say::words;
use crate::problem::{Kind, OneError, Problem};

/// Most packs of one line: a slip of the finger is not an order.
const MOST_PACKS: u32 = 9_999;

/// A line of the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Row {
    pub supplier: String,
    pub product: String,
    /// The supplier's code, where the offer has one.
    pub code: Option<String>,
    /// As it was typed.
    pub packs: String,
}

/// The lines of the form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Chosen(pub Vec<Row>);

impl Row {
    /// The number that was typed; nothing is none.
    ///
    /// # Errors
    /// What was typed, where it is no number of packs.
    pub(super) fn number(&self) -> Result<u32, &str> {
        if self.packs.is_empty() {
            return Ok(0);
        }
        let number = self.packs.parse().ok().filter(|packs| *packs <= MOST_PACKS);
        number.ok_or(self.packs.as_str())
    }
}

impl Chosen {
    /// Reads the columns of the form, and what was picked to be added to a supplier's lines.
    pub(super) fn of(fields: &Fields, suppliers: impl Iterator<Item = String>) -> Self {
        let column = |name| fields.all(name).collect::<Vec<_>>();
        let (products, codes, packs) = (column("product"), column("code"), column("packs"));
        let at =
            |column: &[&str], place: usize| column.get(place).copied().unwrap_or("").to_owned();
        let code = |text: String| Some(text).filter(|text| !text.is_empty());
        let row = |(place, supplier): (usize, &str)| Row {
            supplier: supplier.to_owned(),
            product: at(&products, place),
            code: code(at(&codes, place)),
            packs: at(&packs, place),
        };
        let mut rows: Vec<Row> = fields.all("supplier").enumerate().map(row).collect();
        for supplier in suppliers {
            let Some(picked) = fields.text(&more(&supplier)) else { continue };
            let (product, own) = picked.split_once(':').unwrap_or((picked, ""));
            let (product, code) = (product.to_owned(), code(own.to_owned()));
            let is_there = rows
                .iter()
                .any(|row| row.supplier == supplier && row.product == product && row.code == code);
            if !is_there {
                rows.push(Row { supplier, product, code, packs: String::new() });
            }
        }
        Self(rows)
    }

    /// The row of a line.
    pub(super) fn find(&self, supplier: &str, product: &str, code: Option<&str>) -> Option<&Row> {
        self.0.iter().find(|row| {
            row.supplier == supplier && row.product == product && row.code.as_deref() == code
        })
    }

    /// The rows of a supplier.
    pub(super) fn from<'c>(&'c self, supplier: &'c str) -> impl Iterator<Item = &'c Row> {
        self.0.iter().filter(move |row| row.supplier == supplier)
    }

    /// What is wrong with the numbers, each by the name of its product.
    pub(super) fn wrong(&self, name: impl Fn(&str) -> String) -> Option<Problem> {
        let wrong = |row: &Row| {
            let found = row.number().err()?;
            let detail = words().say("order-packs-wrong").with("found", found).to_string();
            Some(OneError { field: name(&row.product), detail })
        };
        let mut errors: Vec<OneError> = self.0.iter().filter_map(wrong).collect();
        match errors.len() {
            0 => None,
            1 => {
                let OneError { field, detail } = errors.remove(0);
                Some(Problem { field: Some(field), ..Problem::new(Kind::BadBody, detail) })
            }
            _ => {
                let detail = words().say("order-some-wrong").to_string();
                Some(Problem { errors, ..Problem::new(Kind::BadBody, detail) })
            }
        }
    }
}

/// The name of the field in which a product is picked that a supplier sells too.
pub(super) fn more(supplier: &str) -> String {
    format!("more-{supplier}")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_read_with_what_was_picked_beside_them() {
        let fields = Fields::read(
            b"supplier=north&product=soap&code=N1&packs=2&supplier=north&product=clay&code=&packs=\
              &more-north=iron%3AN7&more-south=",
        );
        let suppliers = ["north", "south"].map(str::to_owned).into_iter();
        let chosen = Chosen::of(&fields, suppliers);
        assert_eq!(chosen.0.len(), 3);
        let number = |product, code| chosen.find("north", product, code).unwrap().number();
        assert_eq!(number("soap", Some("N1")), Ok(2));
        assert_eq!(number("clay", None), Ok(0));
        assert_eq!(number("iron", Some("N7")), Ok(0));
        assert!(chosen.wrong(str::to_owned).is_none());
    }

    #[test]
    fn what_is_no_number_of_packs_is_told_by_its_product() {
        let fields = Fields::read(b"supplier=north&product=soap&code=&packs=two");
        let wrong = Chosen::of(&fields, std::iter::empty()).wrong(|_| "Soap".to_owned()).unwrap();
        assert_eq!(wrong.field.as_deref(), Some("Soap"));
        assert!(wrong.detail.contains("two"), "{}", wrong.detail);
        let many = Fields::read(b"supplier=north&product=soap&code=&packs=100000");
        assert!(Chosen::of(&many, std::iter::empty()).wrong(str::to_owned).is_some());
    }
}
