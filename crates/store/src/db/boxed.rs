//! A future behind a pointer.
//!
//! What an async function does is compiled wherever it is awaited, with all that it awaits itself.
//! Behind a pointer it is compiled once, where it is written.

use std::pin::Pin;

/// A future of which nothing is known but what comes of it.
pub(crate) type Boxed<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;
