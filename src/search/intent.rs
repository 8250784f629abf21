//! What sort of answer a query asks for, read off its little words: how to do a thing, whether it is safe, what brings
//! it about. Says nothing about what is asked.

use super::entry::EntryKind;
use super::quantities::is_calculation;
use super::turns::{HANDS, HANDS_OR_THINGS, TURNS};
use super::words::{Plain, Worth, worth};

/// How strongly a query asks for a sort of answer, 0 not at all, 1 clearly.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Intent {
    asked: [f32; EntryKind::ALL.len()],
}

impl Intent {
    /// Reads the little words of a query.
    #[must_use]
    pub fn of(words: &[Plain]) -> Self {
        let mut intent = Self::default();
        for turn in TURNS {
            if turn.phrases.split('|').any(|p| stands(p, words)) {
                intent = intent.and(turn.kind, turn.strength);
            }
        }
        if is_calculation(words) { intent.and(EntryKind::Gauge, 1.0) } else { intent }
    }

    /// How strongly this sort of answer is asked for.
    #[must_use]
    pub fn of_kind(&self, kind: EntryKind) -> f32 {
        self.asked[kind as usize]
    }

    /// Asks for something whatever the words say.
    #[must_use]
    pub fn and(mut self, kind: EntryKind, strength: f32) -> Self {
        let asked = &mut self.asked[kind as usize];
        *asked = asked.max(strength);
        self
    }

    /// Whether nothing says clearly what sort of answer is wanted, but perhaps the thing itself.
    #[must_use]
    pub fn is_open(&self) -> bool {
        EntryKind::ALL.iter().all(|k| *k == EntryKind::Part || self.of_kind(*k) < 0.7)
    }

    /// Whether nothing asks for this sort, and something for another.
    #[must_use]
    pub fn asks_for_another(&self, kind: EntryKind) -> bool {
        self.of_kind(kind) <= 0.0 && self.asked.iter().any(|a| *a >= 0.5)
    }

    /// Whether this is a question of safety: its first hit must be what is to be heeded.
    #[must_use]
    pub fn is_about_safety(&self) -> bool {
        self.of_kind(EntryKind::Caution) >= 1.0
    }

    /// The sort whose best hit leads if it comes near: what is to be heeded before all else, then what is to be computed.
    #[must_use]
    pub fn leader(&self) -> Option<EntryKind> {
        [EntryKind::Caution, EntryKind::Gauge].into_iter().find(|kind| self.of_kind(*kind) >= 1.0)
    }
}

/// Whether the text ends by asking for leave: "… with the engine running ok?". Without the question mark it is praise.
#[must_use]
pub fn asks_whether_it_is_safe(text: &str, words: &[Plain]) -> bool {
    let last = words.last().map_or("", |w| w.text.as_str());
    text.trim_end().ends_with('?') && matches!(last, "ok" | "okay" | "alright" | "safe" | "allowed" | "diy" | "now")
}

/// Whether the text, or a thought of it, begins by telling a hand what to do: "loosen the seized flap", "…, push till it clicks".
/// What is done to a part is a repair. Looking and measuring stand among the turns of phrase.
#[must_use]
pub fn tells_what_to_do(words: &[Plain], clauses: &[usize]) -> bool {
    const BEFORE: [&str; 12] =
        ["and", "then", "but", "please", "just", "need", "want", "have", "going", "to", "must", "now"];
    const ARTICLES: [&str; 12] = ["the", "a", "an", "my", "his", "her", "our", "it", "this", "that", "both", "all"];
    let begins = |at: usize| at == 0 || clauses.get(at) != clauses.get(at - 1);
    (0..words.len()).filter(|at| begins(*at)).any(|at| {
        let mut rest = words[at..].iter().map(|w| w.text.as_str()).skip_while(|w| BEFORE.contains(w));
        let (first, next) = (rest.next().unwrap_or_default(), rest.next().unwrap_or_default());
        let among = |list: &str| list.split(' ').any(|hand| hand == first);
        among(HANDS) || among(HANDS_OR_THINGS) && ARTICLES.contains(&next)
    })
}

/// The word by which a question of how asks for a test ("how can I *check* whether"): it says what is wanted, not what about. A
/// check valve or a test lamp is not asked for thereby.
#[must_use]
pub fn asking_verb(words: &[Plain]) -> Option<usize> {
    const REACH: usize = 4;
    let how = words.iter().position(|w| w.text == "how")?;
    let next = (how + 1..words.len().min(how + 1 + REACH))
        .find(|at| !matches!(words[*at].text.as_str(), "2" | "to") && worth(&words[*at].text) != Worth::Empty)?;
    let text = |at: usize| words.get(at).map_or("", |w| w.text.as_str());
    let thing = matches!(text(next + 1), "valve" | "valves" | "lamp" | "light" | "engine" | "drive" | "port");
    (!thing && ["check", "test", "measure", "verify", "inspect", "diagnose"].contains(&text(next))).then_some(next)
}

/// Whether the words of the phrase stand one after the other.
fn stands(phrase: &str, words: &[Plain]) -> bool {
    let count = phrase.split(' ').count();
    words.windows(count).any(|w| w.iter().zip(phrase.split(' ')).all(|(w, p)| p == "*" || w.text == p))
}

#[cfg(test)]
mod tests {
    use super::super::words::plain_words;
    use super::*;

    fn strongest(text: &str) -> Option<EntryKind> {
        let intent = Intent::of(&plain_words(text));
        let mut kinds = EntryKind::ALL.to_vec();
        kinds.sort_by(|a, b| intent.of_kind(*b).total_cmp(&intent.of_kind(*a)));
        (intent.of_kind(kinds[0]) > intent.of_kind(kinds[1])).then_some(kinds[0])
    }

    #[test]
    fn leave_is_asked_for_with_a_question_mark() {
        let asks = |text: &str| asks_whether_it_is_safe(text, &plain_words(text));
        assert!(asks("cleaning foam on a hot engine, running ok?") && asks("smoke test with a full tank safe ?"));
        assert!(!asks("engine running ok") && !asks("why is it ok when warm?"));
    }

    #[test]
    fn what_hands_do_asks_for_a_repair_and_the_thing_of_that_name_does_not() {
        let tells = |text: &str| {
            let words = plain_words(text);
            tells_what_to_do(&words, &crate::denied::clauses(text, &words))
        };
        assert!(tells("loosen seized exhaust flap") && tells("connector loose, push till it clicks"));
        assert!(tells("please grease the hinge") && tells("need to seal the joint"));
        assert!(!tells("oil cap sucked down") && !tells("seal worn") && !tells("vacuum hose off"));
        assert!(!tells("top of the tank wet, oil everywhere"));
    }

    #[test]
    fn little_words_tell_what_is_asked_for() {
        assert_eq!(strongest("how do I check the purge valve"), Some(EntryKind::Test));
        assert_eq!(strongest("is it safe to weld near the tank"), Some(EntryKind::Caution));
        assert_eq!(strongest("why does the pump click off"), Some(EntryKind::Suspect));
        assert_eq!(strongest("my pump clicks off"), Some(EntryKind::Symptom));
        assert_eq!(strongest("fit a new canister"), Some(EntryKind::Repair));
        assert_eq!(strongest("convert 5 kpa"), Some(EntryKind::Gauge));
        let verb = |text: &str| asking_verb(&plain_words(text)).map(|at| plain_words(text)[at].text.clone());
        assert_eq!(verb("how 2 chek the purge valve").as_deref(), Some("check"));
        assert_eq!(verb("how do I test it"), Some("test".to_owned()));
        assert_eq!(verb("how does the check valve work"), None);
        assert_eq!(verb("check valve stuck"), None);
        assert_eq!(strongest("only when it rains"), Some(EntryKind::Circumstance));
        assert_eq!(strongest("canister"), None);
    }
}
