//! capful-forecast
