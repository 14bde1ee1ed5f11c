//! capful-domain
