//! The shop folder: a shop as plain CSV and TOML files, read, checked and written.
//!
//! [`read`] takes a folder, [`read_files`] the same files in memory; both give the shop's
//! [`Facts`] and [`Warning`]s, or every [`Problem`] of every file, by file and line. [`write()`]
//! and [`to_files`] go the other way. [`merge`] adds what is new in one shop's facts to another's.
//! [`cells`] are the rules of a single cell, for whoever reads the same rows out of another form.
//!
//! ```
//! use std::collections::BTreeMap;
//! let shop = r#"
//!     name = "Two Gulls Detailing"
//!     timezone = "America/Halifax"
//!     currency = "CAD"
//! "#;
//! let products = "id,name,unit,container_size\nsoap,Foaming soap,L,\"3,8\"\n";
//! let mut files = BTreeMap::from([
//!     ("shop.toml".to_owned(), shop.as_bytes().to_vec()),
//!     ("products.csv".to_owned(), products.as_bytes().to_vec()),
//! ]);
//! let errors = capful_folder::read_files(&files).unwrap_err();
//! let place = r#"products.csv:2: column "container_size""#;
//! assert_eq!(
//!     errors.to_string(),
//!     format!(r#"{place}: found "3,8", expected a decimal number such as 12.5"#)
//! );
//! let products = products.replace("\"3,8\"", "3.8");
//! files.insert("products.csv".to_owned(), products.into_bytes());
//! let reading = capful_folder::read_files(&files).unwrap();
//! assert_eq!(reading.facts.products[0].name, "Foaming soap");
//! ```

mod catalog_files;
pub mod cells;
mod csv_text;
mod folder_row;
mod formula;
mod job_files;
mod merge;
mod movement_files;
mod order_files;
mod problem;
mod read;
mod references;
mod row;
mod shop_toml;
mod table;
mod write;

pub use capful_domain::Facts;
pub use merge::{Added, merge};
pub use problem::{Errors, MOST_LISTED, Problem, Warning};
pub use read::{Reading, read, read_files};
pub use write::{to_files, write};
