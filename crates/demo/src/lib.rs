//! capful-demo
