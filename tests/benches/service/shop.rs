//! A shop whose one job type takes ten products, with enough of each for every job.

use std::fmt::Write as _;
use std::path::Path;

/// Products that a job takes.
pub const PRODUCTS: usize = 10;
/// Jobs that are booked.
pub const JOBS: usize = 2400;
/// Containers of each product, of 5 L; a job takes 10 mL.
const CONTAINERS: usize = 8;

const SETTINGS: &str = "name = \"Bench\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n";

/// Writes it as a folder.
pub fn write(folder: &Path) {
    let mut products = "id,name,unit,container_size\n".to_owned();
    let mut sheet = "job_type,product,quantity,unit\n".to_owned();
    let mut receipts = "id,at,product,containers,unit_cost\n".to_owned();
    for product in 0..PRODUCTS {
        let _ = writeln!(products, "p-{product},Product {product},mL,5000");
        let _ = writeln!(sheet, "wash,p-{product},10,mL");
        let _ = writeln!(receipts, "R-{product},2026-01-02,p-{product},{CONTAINERS},20");
    }
    let mut jobs = "id,booked_at,planned_on,status,job_types,size,condition\n".to_owned();
    for job in 0..JOBS {
        let _ = writeln!(jobs, "J-{job},2026-01-03,2026-01-05,booked,wash,medium,3");
    }
    let files = [
        ("shop.toml", SETTINGS.to_owned()),
        ("products.csv", products),
        ("job_types.csv", "id,name\nwash,Wash\n".to_owned()),
        ("usage_sheet.csv", sheet),
        ("receipts.csv", receipts),
        ("jobs.csv", jobs),
    ];
    std::fs::create_dir_all(folder).unwrap();
    for (name, text) in files {
        std::fs::write(folder.join(name), text).unwrap();
    }
}

/// What is measured at a job's end.
pub fn finish_body() -> String {
    let pour = |product| format!("{{\"product\":\"p-{product}\",\"quantity\":10}}");
    format!("{{\"pours\":[{}]}}", (0..PRODUCTS).map(pour).collect::<Vec<_>>().join(","))
}
