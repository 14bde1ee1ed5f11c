//! The small shop that everybody works in.

use std::path::Path;

/// Its products, each with the amount that a pour takes about, in its unit.
pub const PRODUCTS: [(&str, u64); 4] =
    [("shampoo", 60), ("iron-remover", 180), ("glass-cleaner", 25), ("towel", 2)];

/// Its job types, each with the products that its usage sheet lists.
pub const JOB_TYPES: [(&str, &[&str]); 2] = [
    ("wash", &["shampoo", "glass-cleaner"]),
    ("decontamination", &["shampoo", "iron-remover", "towel"]),
];

/// Who sells everything.
pub const SUPPLIER: &str = "north-dock";

/// Its files.
const FILES: [(&str, &str); 7] = [
    ("shop.toml", "name = \"Tern Row\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n"),
    (
        "products.csv",
        "id,name,unit,container_size,open_days,mix_days\n\
         shampoo,Shampoo,mL,5000,180,30\n\
         iron-remover,Iron remover,mL,1000,365,\n\
         glass-cleaner,Glass cleaner,mL,500,365,\n\
         towel,Edgeless towel,each,10,,\n",
    ),
    (
        "suppliers.csv",
        "id,name,lead_days\n\
         north-dock,North Dock,4\n",
    ),
    (
        "offers.csv",
        "supplier,product,pack,price\n\
         north-dock,shampoo,1,38\n\
         north-dock,iron-remover,6,96\n\
         north-dock,glass-cleaner,1,9\n\
         north-dock,towel,3,42\n",
    ),
    ("job_types.csv", "id,name\nwash,Wash\ndecontamination,Decontamination\n"),
    (
        "usage_sheet.csv",
        "job_type,product,quantity,unit\n\
         wash,shampoo,60,mL\n\
         wash,glass-cleaner,25,mL\n\
         decontamination,shampoo,60,mL\n\
         decontamination,iron-remover,180,mL\n\
         decontamination,towel,2,each\n",
    ),
    (
        "receipts.csv",
        "id,at,product,containers,unit_cost\n\
         R-1,2026-01-02,shampoo,6,38\n\
         R-2,2026-01-02,iron-remover,12,16\n\
         R-3,2026-01-02,glass-cleaner,6,9\n\
         R-4,2026-01-02,towel,20,14\n",
    ),
];

/// The receipts that it begins with.
pub const FIRST_RECEIPTS: [&str; 4] = ["R-1", "R-2", "R-3", "R-4"];

/// Writes it as a folder.
pub fn write(folder: &Path) {
    std::fs::create_dir_all(folder).unwrap();
    for (name, text) in FILES {
        std::fs::write(folder.join(name), text).unwrap();
    }
}
