//! What callers write down: the bodies of requests, one file for each kind of row, with the names
//! of the shop folder's columns, and how each becomes a value of the domain.
//!
//! A body that is JSON of the right shape is read field by field by the folder's own rules; every
//! field that is wrong is told, with what stands there and what should. What only the books can
//! know (whether a product is there, whether a container is its own) the store tells, and
//! [`refusal`] finds the field.

mod count;
mod discard;
mod finish;
mod job;
mod job_type;
mod mix;
mod no_body;
mod number;
mod offer;
mod one_or_many;
mod opening;
mod order;
mod pour;
mod product;
mod ratio;
mod reader;
mod receipt;
mod refusal;
mod shop;
mod supplier;

pub(crate) use count::CountBody;
pub(crate) use discard::DiscardBody;
pub(crate) use finish::{FinishBody, Finishing};
pub(crate) use job::{JobBody, JobChangeBody, WhenBody};
pub(crate) use job_type::JobTypeBody;
pub(crate) use mix::MixBody;
pub(crate) use no_body::NoBody;
pub(crate) use number::Number;
pub(crate) use offer::{OfferBody, OfferName};
use one_or_many::OneOrMany;
pub(crate) use opening::OpeningBody;
pub(crate) use order::OrderBody;
pub(crate) use pour::{PourBody, PourRows};
pub(crate) use product::ProductBody;
pub(crate) use ratio::RatioBody;
pub(crate) use reader::Reader;
pub(crate) use receipt::{ReceiptBody, ReceiptRows};
pub(crate) use refusal::refusal;
pub(crate) use shop::ShopBody;
pub(crate) use supplier::SupplierBody;
