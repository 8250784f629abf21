//! From costs to advice. The numbers behind the costs are judgement, so costs alone do not choose between steps that they
//! can hardly tell apart; what a technician holds to does:
//!
//! 1. **What is shown is put right.** A fault that was seen, or that a reading shows which nothing else brings about, is
//!    repaired next: a cause before what it brings about, and no test before it but one that looks for a cause which
//!    would undo the repair. A repair that is only very likely waits for a test that costs less than a tenth of it and can
//!    overturn it, or that is likely to show that a cheaper repair does; it is not even very likely where something else
//!    ends the job for less.
//! 2. **Measure before you fit.** No other repair comes before a test that costs less than half of it, can overturn it and
//!    makes the job at most a little dearer; a measurement can be taken back, a part cannot. Codes and symptoms alone fit no
//!    part while such a test can show its fault, and a repair comes after the tests that the base names for it, where they
//!    cost less than a quarter of it, and than a tenth where a reading has shown its fault. What a test opens for the repair as
//!    well is no cost of the test.
//! 3. **A step must be able to change something.** A test that tells next to nothing, or whose own cost is all that it
//!    changes, is not proposed.
//! 4. **The place comes before the wire.** A wire is repaired where it is broken: the test that finds the place, whose time
//!    the repair holds anyway, comes before the repair unless it was made or the fault was seen.
//! 5. **The trail is followed.** Of what cannot be told apart comes first what may overturn the repair that readings speak
//!    for, and of that what settles most for its cost; of repairs alone the cheapest that more likely helps than not.

use super::candidates::{Scored, by_cost};
use super::equals::{EQUAL, FOLLOWS, LEADS, cheapest_and_telling, is_about, on_the_trail, settle_equals};
use super::grounds::{
    PROVEN, SHOWN, SPOKEN_FOR, causes, finds_cause, further, likely, looks_at, needed, overturns, removes, settles,
    shown_well,
};
use super::problem::{Backing, Problem};
use super::search::Search;
use super::state::State;
use super::{Aim, Step};

/// A test is proposed only where what it tells saves, on the rest of the job, at least this share of its own cost,
const EARNS: f64 = 0.4;

/// and where it takes at least this share off what is not known.
const TELLS: f64 = 0.06;

/// Below this chance a repair is a shot in the dark: none is proposed while a test tells something.
const IN_THE_DARK: f64 = 0.10;

/// Below this one a repair is not named among the other ways on.
const WORTH_A_WORD: f64 = 0.02;

/// Minutes of a repair without a part that may be tried before anything was measured: pressing a plug home, closing a cap.
const A_MOMENT: f64 = 15.0;

/// From this chance of being needed on, a repair for which codes and symptoms alone speak is no guess.
const CERTAIN: f64 = 0.95;

/// Only tests go before a proven repair that cost less than this share of it.
const TENTH: f64 = 0.1;

/// What a repair is made after goes before it where it costs less than this share of it, what it opens for both not counted, or
/// than a tenth where a reading has shown the fault.
const QUARTER: f64 = 0.25;

/// What the base does not name goes before a repair only where it tells so many bits.
const SOMETHING: f64 = 0.02;

/// Before another repair go tests that cost less than this share of it,
const HALF: f64 = 0.5;

/// where the whole job gets dearer by less than this share: the odds of a repair are hardly known better.
const LITTLE: f64 = 0.10;

/// So often at least must a test overturn the repair that it goes before.
const OFTEN: f64 = 0.05;

/// A cause this likely is looked for, or removed, before what it brings about is renewed.
const CAUSE: f64 = 0.15;

/// Below this chance that the complaint is gone already, clearing and re-testing is no step of its own.
const GONE: f64 = 0.3;

/// The candidates as they are proposed, best first and in the order of their costs. `unknown` is the entropy of what has to
/// be done, in bits; `exact` the step that an exact search found.
pub(super) fn proposed(
    search: &mut Search<'_>,
    state: &State,
    list: Vec<Scored>,
    unknown: f64,
    exact: Option<Step>,
) -> Vec<Scored> {
    let tests: Vec<Scored> = list.iter().filter(|s| matches!(s.step, Step::Test(_))).copied().collect();
    let mut list = by_sense(search, state, list, &tests, unknown, exact);
    if let Some(finder) = finds_the_place(search, state, &list, &tests) {
        list.retain(|s| s.step != finder.step);
        list.insert(0, finder);
    }
    if let Some(check) = made_before(search, state, &list, &tests) {
        list.retain(|s| s.step != check.step);
        list.insert(0, check);
    }
    hand_on_before_a_guess(&mut list);
    let first = list.first().map(|s| s.step);
    list.retain(|s| s.step.repair().is_none() || s.needed >= WORTH_A_WORD || Some(s.step) == first);
    list
}

/// The test that finds the place of the repair at the head of the list: one of those named for it that looks at most of what it
/// is wanted for, unless such a one was made. What it costs is saved on the repair.
fn finds_the_place(search: &Search<'_>, state: &State, list: &[Scored], tests: &[Scored]) -> Option<Scored> {
    let (problem, first) = (search.problem, list.first()?);
    let repair = &problem.repairs[first.step.repair()?];
    let own = |t: usize| problem.tests[t].leaves & !problem.tests[t].setups & repair.holds;
    let finds =
        |t: usize| own(t) != 0 && needed(search, state, looks_at(search, t) & repair.removes) >= HALF * first.needed;
    if (0..problem.tests.len()).any(|t| own(t) & state.paid != 0 && finds(t)) {
        return None;
    }
    let open = |s: &&Scored| matches!(s.step, Step::Test(t) if finds(t));
    let finder = tests.iter().find(open)?;
    Some(Scored { expected: first.expected, followed: first.followed, ..*finder })
}

/// The test that the repair at the head of the list is made after, unless its fault was shown beyond doubt: one that costs
/// next to nothing beside the repair and looks at what is in question, whatever the numbers make of it. They are rough, and the
/// part cannot be sent back.
fn made_before(search: &Search<'_>, state: &State, list: &[Scored], tests: &[Scored]) -> Option<Scored> {
    let (problem, first) = (search.problem, list.first()?);
    let repair = &problem.repairs[first.step.repair()?];
    if first.backing == Backing::Shown && (repair.after == 0 || first.needed >= CERTAIN) {
        return None;
    }
    let (aim, cost) = (problem.aim, first.spend.cost(problem.aim));
    // It looks at most of what the repair is wanted for, or at what else it may be where that puts enough at stake.
    let in_question = |t: usize, own: f64| {
        let looks = looks_at(search, t);
        if repair.after == 0 {
            // Where the base names none, what well shows the fault itself and little of other parts.
            let well = shown_well(search, t);
            return !problem.tests[t].begun
                && 3 * (well & repair.part).count_ones() >= well.count_ones()
                && needed(search, state, well & repair.removes) >= HALF * first.needed;
        }
        let other = needed(search, state, looks & !repair.removes);
        needed(search, state, looks & repair.removes) >= HALF * first.needed
            || other >= WORTH_A_WORD
            || other * cost >= HALF * own
    };
    // Where something else may have brought the fault about, what the repair is made after is not left out for being dear.
    let caused = causes(search, state, repair.removes).1 >= CAUSE;
    let proven = first.backing == Backing::Shown && first.needed >= PROVEN;
    let share = match first.backing {
        _ if proven => TENTH,
        Backing::Codes if !a_moment(first) => HALF,
        _ => QUARTER,
    };
    let wanted = |s: &&Scored| match s.step {
        Step::Test(t) => {
            let own = beside(search, state, s, first);
            let named = repair.after >> t & 1 == 1 || repair.after == 0 && s.bits >= SOMETHING;
            named && (own < share * cost || caused && own < cost) && in_question(t, own)
        }
        _ => false,
    };
    let rate = |s: &Scored| s.bits / s.spend.cost(aim).max(1e-9);
    let test = tests.iter().filter(wanted).max_by(|a, b| rate(a).total_cmp(&rate(b)).then(b.step.cmp(&a.step)))?;
    Some(Scored { expected: first.expected, followed: first.followed, ..*test })
}

fn by_sense(
    search: &mut Search<'_>,
    state: &State,
    list: Vec<Scored>,
    all_tests: &[Scored],
    unknown: f64,
    exact: Option<Step>,
) -> Vec<Scored> {
    let aim = search.problem.aim;
    let mut list = offered(list, unknown, exact, search.problem.repaired || state.made[0] != 0);
    drop_found_good(search.problem, &mut list);
    if let Some(repair) = shown(search, state, &list) {
        return repaired_first(search, state, list, repair);
    }
    let tests: Vec<Scored> = list.iter().filter(|s| matches!(s.step, Step::Test(_))).copied().collect();
    let guess = drop_guesses(&mut list);
    drop_what_changes_nothing(&mut list, aim);
    drop_dearer_twins(&mut list);
    let exact = exact.filter(|step| list.first().is_some_and(|s| s.step == *step));
    if exact.is_none() {
        let (lead, trail) = on_the_trail(search, state, &list);
        settle_equals(search.problem, &mut list, lead.as_ref(), &trail);
    }
    let shows = guess.and_then(|guess| {
        finds_the_place(search, state, &[guess], all_tests).or_else(|| shows_the_guess(search, state, guess, &tests))
    });
    let shows = shows.or_else(|| finds_the_place(search, state, &list, all_tests));
    if let Some(test) = shows.or_else(|| to_measure(search, state, &list, &tests)) {
        if list.iter().all(|s| s.step != test.step) {
            list.insert(list.partition_point(|s| s.expected <= test.expected), test);
        }
        put_first(&mut list, test.step);
    }
    list
}

/// The candidates that can be proposed at all, in the order of their costs. A re-test on the chance that the complaint is gone by
/// itself is one of them after a repair, or where no test tells anything any more: the car has just come with the complaint,
/// and clearing would take the freeze frame away.
fn offered(mut list: Vec<Scored>, unknown: f64, exact: Option<Step>, repaired: bool) -> Vec<Scored> {
    list.retain(|s| s.followed && s.expected.is_finite());
    list.sort_by(|a, b| (Some(b.step) == exact).cmp(&(Some(a.step) == exact)).then(by_cost(a, b)));
    list.retain(|s| !matches!(s.step, Step::Test(_)) || s.bits >= TELLS * unknown || Some(s.step) == exact);
    let tests = list.iter().any(|s| matches!(s.step, Step::Test(_)));
    list.retain(|s| s.step != Step::Verify || s.chance >= GONE && (repaired || !tests));
    list
}

/// The repair whose fault is as good as shown; of several the cause of the others, then the cheapest beginning. What goes
/// further than another and takes away nothing more that is likely there is left out.
fn shown(search: &Search<'_>, state: &State, list: &[Scored]) -> Option<Scored> {
    let repairs = || list.iter().filter(|s| s.step.repair().is_some()).copied();
    // What no reading shows by itself is not proven where something else ends the job for less.
    let close = list.iter().map(|s| s.expected).fold(f64::INFINITY, f64::min) * (1.0 + EQUAL);
    let proven: Vec<Scored> = repairs()
        .filter(|s| match s.backing {
            Backing::Shown => s.needed >= SHOWN,
            Backing::Reading => s.needed >= PROVEN && s.expected <= close,
            Backing::Codes => false,
        })
        .collect();
    let likely = likely(search, state);
    let goes_further = |s: &Scored, than: &[Scored]| than.iter().any(|o| further(search, s, o, likely));
    let causes_of = |s: &Scored| causes(search, state, removes(search, s)).0 & likely;
    // What brings about something proven is removed before it, whatever speaks for it, once it is as likely.
    let wanted = proven.iter().fold(0, |all, s| all | causes_of(s));
    let of_cause: Vec<Scored> =
        repairs().filter(|s| s.needed >= PROVEN && removes(search, s) & wanted != 0 && !proven.contains(s)).collect();
    let mut fitting: Vec<Scored> = proven.iter().filter(|s| !goes_further(s, &proven)).copied().collect();
    fitting.extend(of_cause.iter().filter(|s| !goes_further(s, &of_cause)));
    fitting.sort_by(by_cost);
    let cause_waits = |s: &Scored| {
        let causes = causes_of(s);
        fitting.iter().any(|other| removes(search, other) & causes != 0)
    };
    let first = fitting.iter().find(|s| !cause_waits(s)).or(fitting.first()).copied()?;
    // What goes less far and is nearly as likely to do is tried before it.
    let smaller = repairs().filter(|s| {
        s.backing != Backing::Codes && s.needed >= PROVEN * first.needed && further(search, &first, s, likely)
    });
    smaller.min_by(by_cost).or(Some(first))
}

/// The repair first, after the tests that may come before it.
fn repaired_first(search: &mut Search<'_>, state: &State, mut list: Vec<Scored>, repair: Scored) -> Vec<Scored> {
    let aim = search.problem.aim;
    let (cost, cause) = (repair.spend.cost(aim), causes(search, state, removes(search, &repair)).1);
    let likely = likely(search, state);
    // A smaller repair that is likely to do, and what it would save.
    let smaller = list.iter().filter(|s| s.needed >= SHOWN && further(search, &repair, s, likely)).copied();
    let smaller = smaller.min_by(|a, b| a.spend.cost(aim).total_cmp(&b.spend.cost(aim)));
    let removed = removes(search, &repair);
    let late = |s: &Scored| s.expected > repair.expected * (1.0 + EQUAL);
    // What would take the part with it again is looked for before a dear part is fitted, while that costs less than half of
    // what it puts at stake and finds half of it.
    let mut killers: Vec<Step> = Vec::new();
    for s in list.iter().filter(|s| cause < PROVEN && !late(s) && s.spend.cost(aim) < HALF * cause * cost) {
        if let Step::Test(t) = s.step
            && finds_cause(search, state, t, removed) >= HALF * cause
        {
            killers.push(s.step);
        }
    }
    list.retain(|s| match s.step {
        Step::Test(_) if late(s) => false,
        Step::Test(_) if (CAUSE..PROVEN).contains(&cause) || killers.contains(&s.step) => true,
        Step::Test(_) if repair.backing == Backing::Shown => false,
        Step::Test(t) => {
            beside(search, state, s, &repair) < TENTH * cost && overturns(search, state, t, repair.step) >= OFTEN
                || smaller.is_some_and(|o| {
                    s.spend.cost(aim) < HALF * (cost - o.spend.cost(aim)) && settles(search, state, t, o.step) >= SHOWN
                })
        }
        Step::Repair(_) | Step::Mend(_) => s.step == repair.step || s.step.repair() != repair.step.repair(),
        Step::Verify | Step::HandOn => true,
    });
    drop_dearer_twins(&mut list);
    if let Some(test) = killers.first() {
        put_first(&mut list, *test);
    } else if list.first().is_some_and(|s| !matches!(s.step, Step::Test(_))) {
        put_first(&mut list, repair.step);
    }
    list
}

/// Drops the repairs of what was measured by itself and found good: the numbers of a reading are rough, and whoever has measured a
/// part does not renew it next.
fn drop_found_good(problem: &Problem, list: &mut Vec<Scored>) {
    let good = |s: &Scored| s.step.repair().is_some_and(|r| problem.repairs[r].found_good);
    list.retain(|s| !good(s));
}

/// Where no test tells anything any more, what codes alone speak for weakly does not come before handing on.
fn hand_on_before_a_guess(list: &mut [Scored]) {
    let test = list.iter().any(|s| matches!(s.step, Step::Test(_)));
    let guess =
        |s: &Scored| s.step.repair().is_some() && s.backing == Backing::Codes && s.needed < SPOKEN_FOR && !a_moment(s);
    if !test && list.first().is_some_and(guess) {
        put_first(list, Step::HandOn);
    }
}

/// Drops repairs that nothing speaks for but the codes, while there is a test that tells something, and shots in the dark, unless
/// a moment does it. Returns the one that by its cost would have come first of all.
fn drop_guesses(list: &mut Vec<Scored>) -> Option<Scored> {
    let test = list.iter().any(|s| matches!(s.step, Step::Test(_)));
    let bare = |s: &Scored| s.backing == Backing::Codes && s.needed < CERTAIN && !a_moment(s);
    let guess = |s: &Scored| s.step.repair().is_some() && (bare(s) || s.chance < IN_THE_DARK);
    let first = list.first().copied().filter(guess);
    if test {
        list.retain(|s| !guess(s));
    }
    first.filter(|_| test)
}

/// The test that comes in the place of a guess: after any test the guess may follow, so that by their costs the cheapest would
/// be first whatever it looks at. Of those that may overturn it or show its fault the cheapest, of equals the most
/// telling.
fn shows_the_guess(search: &mut Search<'_>, state: &State, guess: Scored, tests: &[Scored]) -> Option<Scored> {
    let mut about = Vec::new();
    for s in tests.iter().filter(|s| s.followed && s.expected.is_finite()) {
        if let Step::Test(t) = s.step
            && (overturns(search, state, t, guess.step) >= FOLLOWS || settles(search, state, t, guess.step) >= FOLLOWS)
        {
            about.push(*s);
        }
    }
    cheapest_and_telling(search.problem, about)
}

/// What a test costs beside a repair that is to follow it: less what it opens or finds for both.
fn beside(search: &Search<'_>, state: &State, test: &Scored, repair: &Scored) -> f64 {
    let (problem, aim) = (search.problem, search.problem.aim);
    let Step::Test(t) = test.step else { return test.spend.cost(aim) };
    let then = problem.cost(repair.step, state.paid | problem.tests[t].leaves);
    test.spend.cost(aim) - (repair.spend.cost(aim) - then).max(0.0)
}

fn a_moment(s: &Scored) -> bool {
    !s.fits && s.spend.minutes <= A_MOMENT
}

/// Of a repair with and without its re-test the dearer.
fn drop_dearer_twins(list: &mut Vec<Scored>) {
    let all = list.clone();
    let cheaper = |s: &Scored| all.iter().find(|o| o.step.repair() == s.step.repair()).is_none_or(|o| o.step == s.step);
    list.retain(|s| s.step.repair().is_none() || cheaper(s));
}

/// A test that makes too little of a difference to what is done next.
fn drop_what_changes_nothing(list: &mut Vec<Scored>, aim: Aim) {
    let Some(best) = list.first().copied() else { return };
    let told_apart = |s: &Scored| ((1.0 - EARNS) * s.spend.cost(aim)).max(EQUAL * best.expected);
    list.retain(|s| !matches!(s.step, Step::Test(_)) || s.expected - best.expected <= told_apart(s));
}

/// The test that goes before the repair at the head of the list, if one does: it may overturn it, or show what so far codes
/// alone speak of.
fn to_measure(search: &mut Search<'_>, state: &State, list: &[Scored], tests: &[Scored]) -> Option<Scored> {
    let first = list.first().copied().filter(|s| s.step.repair().is_some() && !a_moment(s))?;
    let aim = search.problem.aim;
    let close = first.expected * (1.0 + LITTLE);
    let removed = removes(search, &first);
    // Where readings make it likely, only what is about it.
    let led = first.backing != Backing::Codes && first.needed >= LEADS;
    let mut before: Vec<Scored> = tests.to_vec();
    before.retain(|s| match s.step {
        Step::Test(t) if led && !is_about(search, state, t, removed) => false,
        Step::Test(t) => {
            let shows = first.fits && first.backing == Backing::Codes && s.chance >= SHOWN;
            beside(search, state, s, &first) <= HALF * first.spend.cost(aim)
                && (shows || s.expected <= close && overturns(search, state, t, first.step) >= OFTEN)
        }
        _ => false,
    });
    cheapest_and_telling(search.problem, before)
}

/// Puts this step first; what cost less is not told apart from it.
fn put_first(list: &mut [Scored], step: Step) {
    let Some(at) = list.iter().position(|s| s.step == step) else { return };
    let expected = list[at].expected;
    list[..at].iter_mut().for_each(|s| s.expected = expected);
    list[..=at].rotate_right(1);
}
