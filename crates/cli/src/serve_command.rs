//! `capful serve`: a shop kept in a database, answered for over HTTP.

use std::fmt::Write as _;

use capful_store::Store;

use crate::answer::{Answer, Failure};
use crate::args::ServeArgs;
use crate::settings::{Flags, Settings};
use crate::{database, logging, serving};

/// Makes the tables that are missing, says where it listens, and answers until it is asked to stop.
///
/// # Errors
/// [`Failure`] where settings are wrong, the database cannot be opened or the address is taken.
pub fn run(args: &ServeArgs) -> Result<Answer, Failure> {
    let (listen, database) = (args.listen.clone(), args.place.database.clone());
    let flags = Flags { listen, database, ..Flags::default() };
    let settings = Settings::read(args.place.config.as_deref(), &flags)?;
    logging::begin(&settings);
    database::wait(async {
        // First the address: where it is taken, no database is made or moved to this version.
        let listener = serving::listen(&settings.listen).await?;
        let store = database::open(&settings).await?;
        let mut text = format!("Capful listens on {}\n", serving::address(&listener)?);
        if !settings.public_url.is_empty() {
            let reached = serving::reached(&listener, &settings)?;
            let _ = writeln!(text, "Browsers reach it at {reached}");
        }
        text.push_str(&first_steps(&store, args.place.database.as_deref()).await?);
        serving::say(&text)?;
        serving::serve(store, listener, &settings).await
    })?;
    Ok(Answer::yes(String::new(), Vec::new()))
}

/// What a fresh database needs before anybody can ask anything: beside the pages, whose first run
/// is told of once the service answers.
async fn first_steps(store: &Store, database: Option<&str>) -> Result<String, Failure> {
    let shops = store.shops().await?;
    let mut text = String::new();
    let place =
        database.map(|url| format!(" --database {}", database::shown(url))).unwrap_or_default();
    let mut line = |what: &str| {
        let _ = writeln!(text, "  {} {what}{place}", serving::program());
    };
    let says = match shops.first() {
        None => {
            line("import FOLDER");
            line("token create --scope setup");
            "There is no shop in this database yet. Make one in a browser, by the address below, \
             or in another terminal import one (a folder with a shop.toml is enough); programs \
             need a token:\n"
        }
        Some((shop, _)) if store.tokens(*shop).await?.is_empty() => {
            line("token create --scope setup");
            "There is no token yet, and no program is answered without one. In another terminal:\n"
        }
        Some(_) => return Ok(String::new()),
    };
    Ok(format!("{says}{text}"))
}
