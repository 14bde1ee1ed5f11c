//! What can hurt: a product's hazards in plain words, what to wear, what must never come together.
//!
//! All on the careful side, and all below the safety data sheet, local rules and licensed practice,
//! which the last line says. Codes are those of the UN's GHS; the words are the shop's own.

use capful_domain::{Form, Product};

use crate::pages::say::words;

/// What there is to know before a product is touched.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Cautions {
    /// The signal word in the shop's language, where its hazards call for one.
    pub signal: Option<String>,
    /// Each hazard's code and what it means.
    pub hazards: Vec<(String, String)>,
    /// What to wear or switch on.
    pub protection: Vec<String>,
    /// What must not be done, in sentences.
    pub rules: Vec<String>,
}

/// H-statements with the signal word "Danger", or with it in their graver categories (UN GHS,
/// annex 3: the statements of a hazard class and the signal words of its categories).
const DANGER: [&str; 44] = [
    "H200", "H201", "H202", "H203", "H205", "H206", "H207", "H209", "H210", "H220", "H221", "H222",
    "H224", "H225", "H228", "H230", "H231", "H232", "H240", "H241", "H242", "H250", "H251", "H260",
    "H261", "H270", "H271", "H272", "H282", "H300", "H301", "H304", "H310", "H311", "H314", "H318",
    "H330", "H331", "H334", "H340", "H350", "H360", "H370", "H372",
];

/// Statements without a signal word.
const NO_SIGNAL: [&str; 6] = ["H362", "H401", "H402", "H411", "H412", "H413"];

/// What is burnt easily: the flame, and the statements that come with it.
const BURNS: [&str; 15] = [
    "GHS02", "H220", "H221", "H222", "H223", "H224", "H225", "H226", "H227", "H228", "H229",
    "H242", "H282", "H283", "EUH209",
];

/// What eats skin, eyes or metal.
const CORRODES: [&str; 4] = ["GHS05", "H290", "H314", "H318"];

/// The signal word of a list of hazards: whether it is "Danger"; `None` where there is none.
fn is_danger(hazards: &[String]) -> Option<bool> {
    let statements: Vec<&str> =
        hazards.iter().map(|code| code.as_str()).filter(|code| code.starts_with('H')).collect();
    let is_in = |list: &[&str], code: &str| list.iter().any(|own| code.starts_with(own));
    // All that bears the skull is "Danger"; the tree may stand without a word, beside H411.
    if hazards.iter().any(|code| code == "GHS06")
        || statements.iter().any(|code| is_in(&DANGER, code))
    {
        return Some(true);
    }
    let is_warned = statements.iter().any(|code| !is_in(&NO_SIGNAL, code));
    let is_marked = hazards
        .iter()
        .any(|code| code.starts_with("GHS") && (code != "GHS09" || statements.is_empty()));
    (is_warned || is_marked).then_some(false)
}

/// The signal word that a label carries.
pub(super) fn signal(product: &Product) -> Option<String> {
    let name = if is_danger(&product.hazards)? { "signal-danger" } else { "signal-warning" };
    Some(words().say(name).to_string())
}

/// What a code means; for one that is not known here, where to look.
fn meaning(code: &str) -> String {
    let t = words();
    // Letters behind the number say more of the same: H360FD.
    let short = code.get(..4).filter(|_| code.starts_with('H')).unwrap_or(code);
    let name = format!("hazard-{short}");
    if t.has(&name) { t.say(&name).to_string() } else { t.say("hazard-unknown").to_string() }
}

/// Whether its name or notes hold one of these words.
fn speaks_of(product: &Product, wanted: &[&str]) -> bool {
    let text = format!("{} {}", product.name, product.notes.as_deref().unwrap_or_default());
    let text = text.to_lowercase().replace("acid-free", "");
    wanted.iter().any(|word| text.contains(word))
}

impl Cautions {
    /// Of a product.
    pub(super) fn of(product: &Product) -> Self {
        let t = words();
        let codes = product.hazards.iter().flat_map(|code| code.split('+')).map(str::trim);
        let hazards = codes.map(|code| (code.to_owned(), meaning(code))).collect();
        let wear = |word: &String| {
            let name = format!("wear-{word}");
            if t.has(&name) { t.say(&name).to_string() } else { word.clone() }
        };
        Self {
            signal: signal(product),
            hazards,
            protection: product.protection.iter().map(wear).collect(),
            rules: rules(product).into_iter().map(|name| t.say(name).to_string()).collect(),
        }
    }

    /// Whether there is anything but the last line.
    pub(super) const fn is_empty(&self) -> bool {
        self.hazards.is_empty() && self.protection.is_empty() && self.rules.is_empty()
    }
}

/// Whether a product eats skin, eyes or metal: then the order of mixing matters.
pub(in crate::pages) fn corrodes(product: &Product) -> bool {
    has(product, &CORRODES)
}

fn has(product: &Product, codes: &[&str]) -> bool {
    let mut own = product.hazards.iter().flat_map(|code| code.split('+')).map(str::trim);
    own.any(|code| codes.iter().any(|wanted| code.starts_with(wanted)))
}

/// The texts of the rules that hold for a product.
fn rules(product: &Product) -> Vec<&'static str> {
    let mut rules = Vec::new();
    let is_bleach = has(product, &["EUH031", "EUH032", "EUH206"])
        || speaks_of(product, &["bleach", "chlorine", "hypochlorite"])
            && !speaks_of(product, &["acid"]);
    if is_bleach {
        rules.push("rule-bleach");
    } else if corrodes(product) || speaks_of(product, &["acid"]) {
        rules.push("rule-acid");
    }
    if product.form == Form::Concentrate {
        rules.push(if corrodes(product) { "rule-into-water" } else { "rule-water-first" });
    } else if corrodes(product) {
        rules.push("rule-into-water");
    }
    if has(product, &BURNS) {
        rules.push("rule-fire");
    }
    if has(product, &["H222", "H223", "H229", "H280", "H282", "H283", "H284", "GHS04"]) {
        rules.push("rule-pressure");
    }
    if has(product, &["EUH204", "H334"]) || speaks_of(product, &["isocyanate"]) {
        rules.push("rule-isocyanate");
    }
    if !product.hazards.is_empty() {
        rules.push("rule-bottle");
    }
    rules
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_domain::{Amount, Id, Unit};

    use super::*;

    fn product(name: &str, hazards: &[&str]) -> Product {
        let size = Amount { number: 500.into(), unit: Unit::Ml };
        let hazards = hazards.iter().map(|code| (*code).to_owned()).collect();
        Product { hazards, ..Product::new(Id::parse("it").unwrap(), name, size) }
    }

    fn rules_of(name: &str, hazards: &[&str]) -> Vec<&'static str> {
        rules(&product(name, hazards))
    }

    #[test]
    fn acids_are_kept_from_bleach_and_go_into_the_water() {
        let acid = rules_of("Wheel cleaner, acidic", &["GHS05", "H290", "H314"]);
        assert!(acid.contains(&"rule-acid") && acid.contains(&"rule-into-water"), "{acid:?}");
        let bleach = rules_of("Chlorine bleach", &["GHS05", "H314", "EUH031"]);
        assert!(bleach.contains(&"rule-bleach"), "{bleach:?}");
        let free = rules_of("Wheel cleaner, acid-free", &["GHS07", "H319"]);
        assert!(!free.contains(&"rule-acid"), "{free:?}");
    }

    #[test]
    fn solvents_and_aerosols_are_kept_from_heat_and_sparks() {
        for hazards in [&["GHS02", "H225"][..], &["H226"], &["H222", "H229"]] {
            assert!(rules_of("Wipe", hazards).contains(&"rule-fire"), "{hazards:?}");
        }
        assert!(rules_of("Fogger", &["H222", "H229"]).contains(&"rule-pressure"));
        assert!(!rules_of("Soap", &["GHS07", "H319"]).contains(&"rule-fire"));
    }

    #[test]
    fn isocyanates_are_for_licensed_practice() {
        for hazards in [&["EUH204"][..], &["GHS08", "H334"]] {
            let cautions = Cautions::of(&product("Clear coat hardener", hazards));
            let text = cautions.rules.join(" ").to_lowercase();
            for word in ["licensed practice", "respirator", "extraction"] {
                assert!(text.contains(word), "{hazards:?}: {text}");
            }
        }
        assert!(rules_of("Hardener with isocyanate", &[]).contains(&"rule-isocyanate"));
    }

    #[test]
    fn a_label_says_the_graver_signal_word() {
        let said = |hazards: &[&str]| signal(&product("It", hazards));
        assert_eq!(said(&["GHS05", "GHS07", "H302", "H314"]).as_deref(), Some("Danger"));
        assert_eq!(said(&["GHS07", "H315", "H319"]).as_deref(), Some("Warning"));
        // The signal words of UN GHS annex 3: skull, refill that burns, the gravest of gases.
        for grave in [&["GHS06"][..], &["H282"], &["H221"], &["H301+H311"]] {
            assert_eq!(said(grave).as_deref(), Some("Danger"), "{grave:?}");
        }
        // What harms waters for long has the tree without a word (H411), or neither.
        for quiet in [&["GHS09", "H411"][..], &["H412"], &["H401"]] {
            assert_eq!(said(quiet), None, "{quiet:?}");
        }
        assert_eq!(said(&["GHS09", "H410"]).as_deref(), Some("Warning"));
        assert_eq!(said(&[]), None);
    }

    #[test]
    fn every_code_is_explained_or_says_where_to_look() {
        let codes = ["GHS02", "H225", "H360FD", "H301+H311", "H999"];
        let hazards = Cautions::of(&product("It", &codes)).hazards;
        let of = |code: &str| &hazards.iter().find(|(own, _)| own == code).unwrap().1;
        assert_eq!(hazards.len(), 6);
        assert!(of("H999").contains("safety data sheet"));
        assert!(of("H311").contains("skin"));
        assert!(!of("H360FD").contains("safety data sheet"));
        // What is only suspected (H341, H351, H361) is not told as known, and the other way round.
        for (code, is_suspected) in [("H340", false), ("H341", true), ("H350", false)]
            .into_iter()
            .chain([("H351", true), ("H360", false), ("H361", true)])
        {
            assert_eq!(meaning(code).contains("suspected"), is_suspected, "{code}");
        }
        // Every pictogram of the GHS has its words.
        for number in 1..=9 {
            assert!(words().has(&format!("hazard-GHS0{number}")), "GHS0{number}");
        }
    }
}
