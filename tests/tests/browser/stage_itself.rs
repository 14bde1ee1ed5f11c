//! The stage held to what stories rely on, on small pages of its own: it does what it is told, and
//! sees what is wrong.

use std::panic::AssertUnwindSafe;
use std::time::Duration;

use axum::Router;
use axum::extract::Query;
use axum::response::Html;
use axum::routing::get;
use futures_util::FutureExt;
use serde::Deserialize;

use crate::in_a_browser;
use crate::stage::{Browser, Look, Site, Stage};

in_a_browser!(
    a_form_is_filled_in_and_sent,
    names_that_several_have_need_words_beside_them,
    what_comes_late_is_waited_for,
    what_is_not_there_is_told_with_what_is,
    what_is_behind_a_dialog_is_out_of_reach,
    keys_alone_are_enough,
    what_keeps_people_out_is_found,
    small_targets_and_wide_pages_are_found,
    a_look_is_what_it_says,
    scripts_that_are_off_are_off,
    pictures_are_drawn,
);

/// A page about the shelf, with something in it.
fn page(title: &str, head: &str, body: &str) -> String {
    format!(
        "<!doctype html><html lang=en><head><meta charset=utf-8>\
         <meta name=viewport content='width=device-width, initial-scale=1'>\
         <title>{title}</title>{head}</head><body><main><h1>{title}</h1>{body}</main></body></html>"
    )
}

const FORM: &str = "
  <form action=/told>
    <p><label>Product <input name=product value=old></label></p>
    <p><label for=q>Quantity</label> <input id=q name=quantity inputmode=decimal></p>
    <p><label>Day <input type=date name=day></label></p>
    <p><label>Size <select name=size><option>small<option value=m>medium</select></label></p>
    <fieldset><legend>Condition</legend>
      <label><input type=radio name=condition value=1> kept</label>
      <label><input type=radio name=condition value=5> neglected</label>
    </fieldset>
    <label><input type=checkbox name=sealed> Sealed</label>
    <details><summary>More</summary><label>Lot <input name=lot></label></details>
    <button>Write it <b>down</b></button>
  </form>";

const ROOMY: &str = "<style>button, input, select, summary { min-height: 44px }</style>";

#[derive(Deserialize)]
struct Told {
    product: String,
    quantity: String,
    day: String,
    size: String,
    condition: Option<String>,
    sealed: Option<String>,
    lot: String,
}

async fn told(Query(told): Query<Told>) -> Html<String> {
    let Told { product, quantity, day, size, condition, sealed, lot } = told;
    let text = format!("{product}/{quantity}/{day}/{size}/{condition:?}/{sealed:?}/{lot}");
    Html(page("Told", "", &format!("<p>{text}</p><a href=/>Again</a>")))
}

/// Serves one page, and what its form tells.
async fn site(head: &'static str, body: &'static str) -> Site {
    let first = get(move || async move { Html(page("Shelf", head, body)) });
    Site::of(Router::new().route("/", first).route("/told", get(told))).await
}

async fn opened(stage: &Stage, site: &Site, look: Look) -> Browser {
    let browser = stage.before(site, look).await;
    browser.open("/").await;
    browser
}

/// What a story says as it fails.
async fn failed(story: impl Future<Output = ()>) -> String {
    let end = AssertUnwindSafe(story).catch_unwind().await;
    *end.expect_err("it was well").downcast::<String>().unwrap()
}

async fn a_form_is_filled_in_and_sent(stage: Stage) {
    let site = site("", FORM).await;
    for look in [Look::PHONE, Look::LAPTOP, Look::PHONE.without_scripts()] {
        let person = opened(&stage, &site, look).await;
        person.holds("Product", "old").await;
        person.fill("Product", "iron remover").await;
        person.fill("Quantity", "0.5").await;
        person.fill("Day", "2026-03-02").await;
        person.choose("Size", "medium").await;
        person.holds("Size", "medium").await;
        person.choose("Condition", "neglected").await;
        person.tap("Sealed").await;
        person.holds("Sealed", "yes").await;
        person.does_not_see("Lot").await;
        person.tap("More").await;
        person.fill("Lot", "B-1").await;
        person.tap("Write it down").await;
        person.sees(r#"iron remover/0.5/2026-03-02/m/Some("5")/Some("on")/B-1"#).await;
        person.tap("Again").await;
        person.is_at("/").await;
        person.back().await;
        person.sees("Told").await;
    }
}

async fn names_that_several_have_need_words_beside_them(stage: Stage) {
    let body = "<ul><li>A-1 <input aria-label=Used> <a href='/told?1'>Finish</a>
                <li>A-2 <input aria-label=Used> <a href='#two'>Finish</a></ul>
                <a href='#all'>Finish all</a>";
    let site = site("", body).await;
    let mut person = opened(&stage, &site, Look::LAPTOP).await;
    let patience = std::mem::take(&mut person.patience);
    let said = failed(person.tap("Finish")).await;
    assert!(said.contains(r#"several: ["Finish","Finish"]"#), "{said}");
    person.patience = patience;
    person.tap_by("A-2", "Finish").await;
    assert!(person.client.current_url().await.unwrap().as_str().ends_with("#two"));
    person.tap("all").await;
    assert!(person.client.current_url().await.unwrap().as_str().ends_with("#all"));
    person.fill_by("A-2", "Used", "30").await;
    let held = person.ask("return document.querySelectorAll('input')[1].value;", vec![]).await;
    assert_eq!(held, "30");
}

async fn what_comes_late_is_waited_for(stage: Stage) {
    let body = "<p id=now>Waiting</p><script>
      setTimeout(() => { now.innerHTML = '<button onclick=\"now.textContent = 7\">Go</button>' },
                 300);
      </script>";
    let site = site("", body).await;
    let person = opened(&stage, &site, Look::PHONE).await;
    person.sees("Waiting").await;
    person.does_not_see("Waiting").await;
    person.tap("Go").await;
    person.sees("7").await;
}

async fn what_is_not_there_is_told_with_what_is(stage: Stage) {
    let body = "<button>Count</button>
                <button disabled>Order</button> <button hidden>Mix</button>
                <p style='visibility: hidden'>Nothing</p>";
    let site = site("", body).await;
    let mut person = opened(&stage, &site, Look::LAPTOP).await;
    person.patience = Duration::ZERO;
    for name in ["Order", "Mix"] {
        let said = failed(person.tap(name)).await;
        assert!(said.contains(r#"there are: ["Count"]"#), "{said}");
    }
    let said = failed(person.sees("Nothing")).await;
    assert!(said.contains("it says: Shelf Count Order"), "{said}");
    let said = failed(person.does_not_see("Order")).await;
    assert!(said.contains("“Order” can be read"), "{said}");
}

async fn what_is_behind_a_dialog_is_out_of_reach(stage: Stage) {
    let body = "<button onclick='sure.showModal()'>Discard</button>
                <dialog id=sure>Sure? <button onclick='sure.close()'>Keep it</button></dialog>";
    let site = site("", body).await;
    let mut person = opened(&stage, &site, Look::PHONE).await;
    person.tap("Discard").await;
    person.sees("Sure?").await;
    person.does_not_see("Shelf").await;
    let patience = std::mem::take(&mut person.patience);
    let said = failed(person.tap("Discard")).await;
    assert!(said.contains(r#"there are: ["Keep it"]"#), "{said}");
    person.patience = patience;
    person.tap("Keep it").await;
    person.does_not_see("Sure?").await;
    person.tap("Discard").await;
    person.keys(&["Escape"]).await;
    person.sees("Shelf").await;
}

async fn keys_alone_are_enough(stage: Stage) {
    let site = site("", FORM).await;
    let person = opened(&stage, &site, Look::LAPTOP).await;
    person.tab_to("Quantity").await;
    person.keys(&["12", "Shift+Tab"]).await;
    assert_eq!(person.focused().await, "Product");
    person.keys(&["snow foam"]).await;
    person.tab_to("Sealed").await;
    person.keys(&["Space"]).await;
    person.tab_to("Write it down").await;
    person.keys(&["Enter"]).await;
    person.sees(r#"snow foam/12//small/None/Some("on")/"#).await;
    let said = failed(person.tab_to("Order")).await;
    assert!(said.contains("Again"), "{said}");
}

async fn what_keeps_people_out_is_found(stage: Stage) {
    let good = site(ROOMY, FORM).await;
    for look in Look::ALL {
        opened(&stage, &good, look).await.axe().await;
    }
    let bad = site("", "<img src='data:,'><p style='color: #ccc'>pale</p>").await;
    for look in [Look::LAPTOP, Look::LAPTOP.without_scripts()] {
        let person = opened(&stage, &bad, look).await;
        let rules: Vec<String> = person.kept_out().await.into_iter().map(|kept| kept.id).collect();
        assert_eq!(rules, ["color-contrast", "image-alt"]);
        let said = failed(person.axe()).await;
        assert!(said.contains("image-alt: img"), "{said}");
    }
}

async fn small_targets_and_wide_pages_are_found(stage: Stage) {
    let head = "<style>
      .large, nav a { display: inline-block; min-width: 44px; min-height: 44px }
      label { display: inline-block; padding: 14px } .skip { position: absolute; left: -999px }
      .small { width: 30px; height: 50px; padding: 0 } .wide { width: 600px }</style>";
    let good = "<a class=skip href='#'>Skip</a><nav><a href='#'>Jobs</a></nav>
      <p>Words around <a href='#'>a link</a>.</p><button class=large>Count</button>
      <label><input type=checkbox> Sealed</label>";
    let site_of_good = site(head, good).await;
    let person = opened(&stage, &site_of_good, Look::PHONE).await;
    person.is_for_everybody().await;

    let bad = "<p><a href='#'>alone</a></p><button class=small id=b>i</button>
      <div class=wide id=w>Much</div>";
    let site_of_bad = site(head, bad).await;
    let person = opened(&stage, &site_of_bad, Look::PHONE).await;
    let said = failed(person.targets()).await;
    assert!(said.contains("<button#b> “i”: 30×50"), "{said}");
    assert!(said.contains("<a> “alone”"), "{said}");
    let said = failed(person.fits()).await;
    assert!(said.contains("<div#w>") && said.contains("over 390 wide"), "{said}");
    opened(&stage, &site_of_bad, Look::LAPTOP).await.fits().await;
}

const LOOKS: &str = "<style>
  p { display: none }
  @media (prefers-color-scheme: dark) { #dark { display: block } }
  @media (pointer: coarse) { #finger { display: block } }
  @media (width: 390px) { #narrow { display: block } }
  @media (width: 1280px) { #broad { display: block } }</style>";

async fn a_look_is_what_it_says(stage: Stage) {
    let body = "<p id=dark>dark<p id=finger>finger<p id=narrow>narrow<p id=broad>broad";
    let site = site(LOOKS, body).await;
    let says =
        ["Shelf finger narrow", "Shelf dark finger narrow", "Shelf broad", "Shelf dark broad"];
    for (look, says) in Look::ALL.into_iter().zip(says) {
        assert_eq!(opened(&stage, &site, look).await.text().await, says);
    }
}

async fn scripts_that_are_off_are_off(stage: Stage) {
    let body = "<p id=p>plain</p><noscript>without</noscript>
                <script>p.textContent = 'scripted'</script>";
    let site = site("", body).await;
    opened(&stage, &site, Look::PHONE).await.sees("scripted").await;
    let plain = opened(&stage, &site, Look::PHONE.without_scripts()).await;
    assert_eq!(plain.text().await, "Shelf plain without");
}

async fn pictures_are_drawn(stage: Stage) {
    let both = "<meta name=color-scheme content='light dark'>";
    let site = site(both, "<div style='height: 2000px'>High</div>").await;
    let mut pictures = Vec::new();
    for (look, name) in [(Look::PHONE, "390"), (Look::PHONE.dark(), "390-dark")] {
        let path = format!("{}/../target/screens/stage-{name}.png", env!("CARGO_MANIFEST_DIR"));
        let _ = std::fs::remove_file(&path);
        opened(&stage, &site, look).await.screenshot("stage").await;
        let png = std::fs::read(&path).unwrap();
        let size = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
        assert_eq!(size(16), 390);
        assert!(size(20) > 2000);
        pictures.push(png);
    }
    assert_ne!(pictures[0], pictures[1]);
}
