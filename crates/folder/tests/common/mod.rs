//! A small valid folder in memory, for tests that change one file of it.

#![allow(dead_code, clippy::unwrap_used)] // each test takes what it needs

use std::collections::BTreeMap;

use capful_folder::{Errors, Reading, read_files};

/// Files by name.
pub type Files = BTreeMap<String, Vec<u8>>;

/// Written as [`capful_folder::write`] writes, but for the line ends.
const FOLDER: [(&str, &str); 16] = [
    (
        "shop.toml",
        r#"name = "Two Gulls Detailing"
timezone = "America/Halifax"
currency = "CAD"
units = "metric"
order_weekday = "mon"
closed = ["sun"]
closed_days = ["2026-12-25", "2026-12-26"]
stall_cost = 150.00
holding_rate = 0.25
service = 0.95
budget = 0.00

[sizes]
small = 0.8
medium = 1
large = 1.25
oversize = 1.5

[conditions]
1 = 0.7
2 = 0.85
3 = 1
4 = 1.25
5 = 1.6
"#,
    ),
    (
        "products.csv",
        "id,name,unit,container_size,category,form,shelf_days,open_days,mix_days,density_g_ml,\
         tare_g,gtin,hazards,protection,substitutes,notes\n\
         iron,Iron remover,mL,5000,wheels,ready,730,365,,1.05,180,02345673,GHS07;H317,gloves,,\n\
         apc,\"All-purpose, strong\",gal,1,,concentrate,,,30,,,,,,iron,\"Keep \"\"cool\"\"\"\n\
         towel,Edgeless towel,each,12,,ready,,,,,,,,,,\n",
    ),
    ("ratios.csv", "product,label,water\napc,wheels,5\napc,heavy,2.5\n"),
    (
        "suppliers.csv",
        "id,name,lead_days,lead_days_sd,order_weekdays,freight,free_freight_over,minimum_order\n\
         north,North Dock,4.5,1,mon;thu,12.00,200.00,\n",
    ),
    (
        "offers.csv",
        "supplier,product,pack,price,code,minimum_packs,preferred\n\
         north,iron,1,46.00,ND-1,,yes\n\
         north,towel,4,60.00,,2,\n",
    ),
    (
        "job_types.csv",
        "id,name,price,stall_cost,return_days,return_share,return_job_type\n\
         wash,Maintenance wash,80.00,,30,0.4,\n\
         wheels,Wheel-face coating,240.00,300.00,180,0.25,wash\n",
    ),
    (
        "usage_sheet.csv",
        "job_type,product,quantity,unit,water,share_of_jobs,log_sd\n\
         wash,apc,600,mL,5,,0.5\n\
         wheels,iron,4,fl oz,,0.9,\n",
    ),
    (
        "jobs.csv",
        "id,booked_at,planned_on,status,job_types,size,condition,started_at,finished_at,\
         cancelled_at,vehicle,price\n\
         J-1,2026-02-20T09:15,2026-03-02,done,wash;wheels,large,4,2026-03-02T09:00,\
         2026-03-02T13:30,,Grey wagon,320.00\n\
         J-2,2026-02-28,2026-03-05,booked,wash,medium,3,,,,,\n",
    ),
    (
        "pours.csv",
        "id,at,product,quantity,unit,job,water,container,method\n\
         P-1,2026-03-02T09:10,iron,110,mL,J-1,,R-1/1,measured\n\
         P-2,2026-03-02T09:40,apc,450.0,mL,J-1,5,M-1,\n",
    ),
    (
        "receipts.csv",
        "id,at,product,containers,unit_cost,supplier,lot,best_before,order,container_size\n\
         R-1,2026-02-01,iron,2,46.00,north,B2231,2027-08-31,O-1,\n\
         R-2,2026-02-01,apc,1,30.00,,,,,0.5\n",
    ),
    ("openings.csv", "id,at,product,container\nOP-1,2026-03-01T08:00,iron,R-1/1\n"),
    (
        "discards.csv",
        "id,at,product,quantity,unit,container,reason\nD-1,2026-03-03,iron,,,R-1/2,damaged\n",
    ),
    (
        "mixes.csv",
        "id,at,product,quantity,unit,water,container\nM-1,2026-03-01T08:05,apc,1,L,5,R-2/1\n",
    ),
    (
        "counts.csv",
        "id,at,product,quantity,unit,gross_g,container,sealed,sd_share\n\
         C-1,2026-03-04T17:00,iron,4.2,L,,R-1/1,,\n\
         C-2,2026-03-04T17:05,towel,5,each,,,2,0\n\
         C-3,2026-03-04T17:10,apc,,,812.5,,,0.05\n",
    ),
    ("orders.csv", "id,placed_at,supplier,status\nO-1,2026-01-28T10:00,north,received\n"),
    ("order_lines.csv", "order,product,packs,supplier_code\nO-1,iron,2,ND-1\n"),
];

/// The valid folder.
pub fn folder() -> Files {
    FOLDER.iter().map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect()
}

/// The text of a file of the valid folder.
pub fn text(name: &str) -> String {
    String::from_utf8(folder()[name].clone()).unwrap()
}

/// The valid folder with other files in place of its own.
pub fn with(files: &[(&str, &str)]) -> Result<Reading, Errors> {
    let mut folder = folder();
    for (name, text) in files {
        folder.insert(name.to_string(), text.as_bytes().to_vec());
    }
    read_files(&folder)
}

/// The valid folder with one text replaced in one file, where it must stand.
pub fn changed(name: &str, from: &str, to: &str) -> Result<Reading, Errors> {
    let text = text(name);
    assert!(text.contains(from), "{name} holds no {from:?}");
    with(&[(name, &text.replacen(from, to, 1))])
}

/// Every problem, as a person reads it.
pub fn problems(result: Result<Reading, Errors>) -> Vec<String> {
    match result {
        Ok(_) => Vec::new(),
        Err(errors) => errors.problems.iter().map(ToString::to_string).collect(),
    }
}

/// Every warning, as a person reads it.
pub fn warnings(result: Result<Reading, Errors>) -> Vec<String> {
    let warnings = result.map_or_else(|errors| errors.warnings, |reading| reading.warnings);
    warnings.iter().map(ToString::to_string).collect()
}
