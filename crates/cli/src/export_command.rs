//! `capful export`: the shop of a database or of a running service, as a folder.

use std::path::Path;

use crate::answer::{Answer, Failure};
use crate::args::ExportArgs;
use crate::progress::Progress;
use crate::{database, remote};

/// Writes the shop out as a folder.
///
/// # Errors
/// [`Failure`] where the folder is not empty or cannot be written, or there is no shop.
pub fn run(args: &ExportArgs) -> Result<Answer, Failure> {
    if !args.force && !is_empty(&args.folder)? {
        let folder = args.folder.display();
        return Err(Failure::Refused(format!(
            "{folder} is not empty, so nothing was written: name another folder, or replace its \
             shop files with --force"
        )));
    }
    let progress = Progress::begin("reading the shop");
    let facts = if let Some(service) = remote::Service::of(&args.server)? {
        database::wait(service.export())?
    } else {
        let settings = database::settings(&args.place.database)?;
        database::wait(async {
            let store = database::open_to_read(&settings).await?;
            let (shop, _) = database::shop(&store, args.place.shop.as_deref()).await?;
            let facts = store.facts(shop, None).await?;
            store.close().await;
            Ok(facts)
        })?
    };
    progress.now("writing the folder");
    let failed = |error| Failure::File { path: args.folder.clone(), error };
    capful_folder::write(&facts, &args.folder).map_err(failed)?;
    let (name, folder) = (&facts.shop.name, args.folder.display());
    Ok(Answer::yes(format!("Wrote {name} to {folder}.\n"), Vec::new()))
}

fn is_empty(folder: &Path) -> Result<bool, Failure> {
    match std::fs::read_dir(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(true),
        Err(error) => Err(Failure::File { path: folder.to_owned(), error }),
        Ok(mut entries) => Ok(entries.next().is_none()),
    }
}
