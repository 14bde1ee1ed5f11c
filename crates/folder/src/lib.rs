//! capful-folder
