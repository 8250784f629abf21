//! The shop file: rates, prices, tools and times of one shop, read and checked against the base. What is done with them
//! is the planner's business.

use knowledge::base::Base;
use knowledge::fields::{Num, parse};
use knowledge::near::{did_you_mean, near};
use knowledge::yaml::{self, Place, Spanned};
use planning::{Aim, Shop};
use std::path::{Path, PathBuf};

/// The shop file's name in the platform's configuration folder.
const FILE: &str = "shop.yaml";

/// An example with every field, for the documentation and for a first file.
pub const EXAMPLE: &str = "\
currency: EUR
labour_rate: 80          # for an hour
hand_on: {cost: 600, minutes: 300}
retest_minutes: 10       # clearing the codes and proving a repair
second_visit: {cost: 0, minutes: 0}    # coming back, or waiting, for a part that is not at hand
at_hand: [filler-cap/replace-cap]      # repairs whose parts are
keep_small: money        # or: minutes
tools: [scan-tool, torch, multimeter, hand-vacuum-pump, jack-stands]
own:                     # own minutes and prices; parts for repairs, consumables for tests
  - {id: cap-look-reseat, minutes: 1}
  - {id: filler-cap/replace-cap, minutes: 4, price: 15}
";

/// Why a shop file cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ShopError {
    /// The file cannot be read.
    #[error("{path}: {why}")]
    Unreadable {
        /// The file.
        path: String,
        /// What the system says.
        why: String,
    },
    /// Something in the file is wrong.
    #[error("{path}:{}:{}: {message}", place.line, place.column)]
    Wrong {
        /// The file.
        path: String,
        /// Where.
        place: Place,
        /// What.
        message: String,
        /// What to do.
        hint: Option<String>,
    },
}

knowledge::written! {
    RawShop "shop file" {
        may currency: Spanned<String>;
        may labour_rate: Spanned<Num>;
        may hand_on: RawSpend;
        may retest_minutes: Spanned<Num>;
        may second_visit: RawSpend;
        may at_hand: Vec<Spanned<String>>;
        may keep_small: Spanned<String>;
        may tools: Vec<Spanned<String>>;
        may own: Vec<RawOwn>;
    }
}
knowledge::written! {
    RawSpend "cost, with its minutes" {
        may cost: Spanned<Num>;
        may minutes: Spanned<Num>;
    }
}
knowledge::written! {
    RawOwn "entry of `own`" {
        need id: Spanned<String>;
        may minutes: Spanned<Num>;
        may price: Spanned<Num>;
    }
}

/// The largest amount of money or minutes taken from a shop file.
const MOST: f64 = 1e6;

/// Where the shop file is, if it is there at all.
#[must_use]
pub fn usual() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "faultodds").map(|d| d.config_dir().join(FILE))
}

/// Whether rates, prices and tools are those of the standard shop, because there is no file.
#[must_use]
pub fn is_example(given: Option<&Path>) -> bool {
    given.is_none() && !usual().is_some_and(|p| p.is_file())
}

/// Reads the file that was given, or the one in the configuration folder if it is there, or takes the standard shop.
///
/// # Errors
/// [`ShopError`].
pub fn load(given: Option<&Path>, base: &Base) -> Result<Shop, ShopError> {
    let path = match given {
        Some(path) => path.to_owned(),
        None => match usual().filter(|p| p.is_file()) {
            Some(path) => path,
            None => return Ok(Shop::default()),
        },
    };
    let name = path.display().to_string();
    let unreadable = |why: String| ShopError::Unreadable { path: name.clone(), why };
    let size = std::fs::metadata(&path).map_err(|e| unreadable(e.to_string()))?.len();
    if size > yaml::LARGEST_FILE as u64 {
        return Err(unreadable(format!("{size} bytes are more than a shop file holds")));
    }
    let text = knowledge::bounded::read_text(&path).map_err(|e| unreadable(e.to_string()))?;
    read(&text, &name, base)
}

/// Reads the text of a shop file.
///
/// # Errors
/// The first thing that is wrong.
pub fn read(text: &str, path: &str, base: &Base) -> Result<Shop, ShopError> {
    let wrong = |place: Place, message: String, hint: Option<String>| ShopError::Wrong {
        path: path.to_owned(),
        place,
        message,
        hint,
    };
    let raw = parse::<RawShop>(text).map_err(|faults| match faults.into_iter().next() {
        Some(first) => wrong(first.place, first.fault.to_string(), None),
        None => wrong(Place::default(), "this is no shop file".to_owned(), None),
    })?;
    let amount = |what: &str, n: &Spanned<Num>| {
        let told = match &n.value {
            Num::Good(v) if (0.0..=MOST).contains(v) => return Ok(*v),
            Num::Good(v) => v.to_string(),
            Num::Bad(text) => text.clone(),
        };
        Err(wrong(n.place, format!("{what} is {told}; it must be a number between 0 and {MOST}"), None))
    };
    let unknown = |id: &Spanned<String>, what: &str, known: Vec<&str>| {
        let message = format!("the base has no {what} `{}`", id.value);
        wrong(id.place, message, did_you_mean(&near(&id.value, known, 3)))
    };
    let mut shop = Shop::default();
    if let Some(currency) = raw.currency {
        shop.currency = currency.value;
    }
    if let Some(rate) = &raw.labour_rate {
        shop.labour_rate = amount("labour_rate", rate)?;
    }
    if let Some(hand_on) = &raw.hand_on {
        if let Some(cost) = &hand_on.cost {
            shop.hand_on_cost = amount("the cost of handing on", cost)?;
        }
        if let Some(minutes) = &hand_on.minutes {
            shop.hand_on_minutes = amount("the minutes of handing on", minutes)?;
        }
    }
    if let Some(minutes) = &raw.retest_minutes {
        shop.retest_minutes = amount("retest_minutes", minutes)?;
    }
    if let Some(visit) = &raw.second_visit {
        if let Some(cost) = &visit.cost {
            shop.second_visit.0 = amount("the cost of a second visit", cost)?;
        }
        if let Some(minutes) = &visit.minutes {
            shop.second_visit.1 = amount("the minutes of a second visit", minutes)?;
        }
    }
    for repair in raw.at_hand.unwrap_or_default() {
        if base.repair(&repair.value).is_none() {
            return Err(unknown(&repair, "repair", base.repairs().map(|(_, r)| r.id.as_str()).collect()));
        }
        shop.at_hand.insert(repair.value);
    }
    if let Some(aim) = &raw.keep_small {
        shop.aim = match aim.value.as_str() {
            "money" => Aim::Money,
            "minutes" => Aim::Minutes,
            other => {
                return Err(wrong(aim.place, format!("keep_small is `{other}`; it is money or minutes"), None));
            }
        };
    }
    if let Some(tools) = raw.tools {
        for tool in &tools {
            if base.tool(&tool.value).is_none() {
                return Err(unknown(tool, "tool", base.tools.iter().map(|t| t.id.as_str()).collect()));
            }
        }
        shop.tools = Some(tools.into_iter().map(|t| t.value).collect());
    }
    for own in raw.own.unwrap_or_default() {
        let id = &own.id.value;
        if base.test(id).is_none() && base.repair(id).is_none() && base.setup(id).is_none() {
            let tests = base.tests.iter().map(|t| t.id.as_str());
            let known = tests.chain(base.setups.iter().map(|s| s.id.as_str()));
            let known = known.chain(base.repairs().map(|(_, r)| r.id.as_str())).collect();
            return Err(unknown(&own.id, "test, setup or repair", known));
        }
        if let Some(minutes) = &own.minutes {
            shop.minutes.insert(id.clone(), amount("minutes", minutes)?);
        }
        if let Some(price) = &own.price {
            shop.prices.insert(id.clone(), amount("price", price)?);
        }
    }
    Ok(shop)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_is_read_as_written() {
        let base = shipped::base().unwrap();
        let shop = read(EXAMPLE, "shop.yaml", &base).unwrap();
        assert_eq!((shop.labour_rate, shop.hand_on_cost, shop.aim), (80.0, 600.0, Aim::Money));
        assert_eq!(shop.minutes["cap-look-reseat"], 1.0);
        assert_eq!(shop.prices["filler-cap/replace-cap"], 15.0);
        assert_eq!(shop.tools.unwrap().len(), 5);
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        let base = shipped::base().unwrap();
        let told = |text: &str| read(text, "shop.yaml", &base).unwrap_err().to_string();
        assert!(
            told("labour_rate: -5\n").starts_with("shop.yaml:1:14: labour_rate is -5"),
            "{}",
            told("labour_rate: -5\n")
        );
        assert!(told("tools: [smoke-machin]\n").contains("no tool `smoke-machin`"));
        assert!(told("labour: 5\n").contains("no field `labour`"));
        assert!(told("own:\n  - {id: nonsense, minutes: 2}\n").starts_with("shop.yaml:2:10"));
        assert!(told("retest_minutes: .nan\n").contains("between 0"));
        assert!(told("at_hand: [filler-cap/replace-cup]\n").contains("no repair `filler-cap/replace-cup`"));
        assert!(told("second_visit: {cost: -1}\n").contains("second visit is -1"));
    }
}
