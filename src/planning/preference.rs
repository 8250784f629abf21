//! From costs to advice: which of the candidates are proposed at all, and which of those that cannot be told apart by
//! their cost comes first.

use super::candidates::{Scored, by_cost};
use super::{Aim, Step};

/// Expected costs that differ by less than this share are not told apart: what is cut off while looking ahead leaves
/// them uncertain by about as much.
pub const EQUAL: f64 = 0.01;

/// A test is proposed only where what it tells saves, on the rest of the job, at least this share of its own cost,
const EARNS: f64 = 0.4;

/// and where it takes at least this share off what is not known.
const TELLS: f64 = 0.06;

/// Of what the most telling of equals tells, a test must tell this share to be taken for being cheap.
const ENOUGH: f64 = 0.15;

/// What any test costs beside its own time, for comparing equals: walking, washing hands, writing down.
const BESIDE: f64 = 5.0;

/// Below this chance a repair is a shot in the dark: none is proposed while a test tells something.
const IN_THE_DARK: f64 = 0.10;

/// Minutes of a repair without a part that may be tried before anything was measured: pressing a plug home, closing a cap.
const A_MOMENT: f64 = 15.0;

/// From this chance on a repair for which a reading speaks is as good as proven,
const PROVEN: f64 = 0.85;

/// and only tests go before it that cost less than this share of it.
const TENTH: f64 = 0.1;

/// Below this chance that the complaint is gone already, clearing and re-testing is no step of its own.
const GONE: f64 = 0.3;

/// The candidates that can be proposed at all, in the order of their costs. `unknown` is the entropy of what has to be
/// done, in bits; `exact` the step that an exact search found.
pub(super) fn offered(mut list: Vec<Scored>, unknown: f64, exact: Option<Step>) -> Vec<Scored> {
    list.retain(|s| s.followed && s.expected.is_finite());
    list.sort_by(|a, b| (Some(b.step) == exact).cmp(&(Some(a.step) == exact)).then(by_cost(a, b)));
    list.retain(|s| !matches!(s.step, Step::Test(_)) || s.bits >= TELLS * unknown || Some(s.step) == exact);
    list.retain(|s| s.step != Step::Verify || s.chance >= GONE);
    drop_guesses(&mut list);
    list
}

/// Those that are proposed: those that cannot be told apart have the same cost, and among them comes first what settles
/// more.
pub(super) fn ordered(mut list: Vec<Scored>, exact: Option<Step>, aim: Aim) -> Vec<Scored> {
    drop_what_changes_nothing(&mut list, aim);
    drop_detours(&mut list, aim);
    let Some(least) = list.first().map(|s| s.expected) else { return list };
    if exact.is_none_or(|step| list[0].step != step) {
        let equals = list.iter().take_while(|s| s.expected <= least * (1.0 + EQUAL)).count();
        list[..equals].iter_mut().for_each(|s| s.expected = least);
        if let Some(first) = first_of_equals(&list[..equals], aim) {
            list[..=first].rotate_right(1);
        }
    }
    list
}

/// Repairs that nothing speaks for but the codes, while there is a test that tells something: measure before you fit. And
/// shots in the dark, unless a moment does it.
fn drop_guesses(list: &mut Vec<Scored>) {
    let a_moment = |s: &Scored| !s.fits && s.spend.minutes <= A_MOMENT;
    let test = list.iter().any(|s| matches!(s.step, Step::Test(_)));
    let guess = |s: &Scored| !s.backed && !a_moment(s) || s.chance < IN_THE_DARK;
    if test {
        list.retain(|s| s.step.repair().is_none() || !guess(s));
    }
}

/// A test that makes too little of a difference to what is done next; of a repair with and without its re-test the
/// dearer.
fn drop_what_changes_nothing(list: &mut Vec<Scored>, aim: Aim) {
    let Some(best) = list.first().copied() else { return };
    let all = list.clone();
    let told_apart = |s: &Scored| ((1.0 - EARNS) * s.spend.cost(aim)).max(EQUAL * best.expected);
    list.retain(|s| match s.step {
        Step::Test(_) => s.expected - best.expected <= told_apart(s),
        Step::Repair(_) | Step::Mend(_) => {
            all.iter().find(|o| o.step.repair() == s.step.repair()).is_none_or(|o| o.step == s.step)
        }
        Step::HandOn | Step::Verify => true,
    });
}

/// Another look where a repair is as good as proven, unless it is cheap beside the repair.
fn drop_detours(list: &mut Vec<Scored>, aim: Aim) {
    let proven = |s: &&Scored| matches!(s.step, Step::Repair(_)) && s.chance >= PROVEN && s.backed;
    let Some(repair) = list.iter().find(proven).copied() else { return };
    list.retain(|s| !matches!(s.step, Step::Test(_)) || s.spend.cost(aim) < TENTH * repair.spend.cost(aim));
}

/// Which of the equals comes first: a repair that is as good as proven; else a measurement before a part, because it can
/// be taken back; of several tests the one that tells most for its cost among those that tell enough.
fn first_of_equals(equals: &[Scored], aim: Aim) -> Option<usize> {
    let head = equals.first()?;
    if let Some(proven) = equals.iter().position(|s| s.step.repair().is_some() && s.chance >= PROVEN) {
        return Some(proven);
    }
    if head.step.repair().is_some() && !head.fits || matches!(head.step, Step::Verify) {
        return Some(0);
    }
    let tests = || equals.iter().enumerate().filter(|(_, s)| matches!(s.step, Step::Test(_)));
    if tests().next().is_none() {
        // Of repairs that cannot be told apart the likeliest, for then it ends soonest.
        let repairs = equals.iter().enumerate().filter(|(_, s)| s.step.repair().is_some());
        return repairs.max_by(|a, b| a.1.chance.total_cmp(&b.1.chance).then(b.0.cmp(&a.0))).map(|(i, _)| i);
    }
    let most = tests().map(|(_, s)| s.bits).fold(0.0, f64::max);
    let rate = |s: &Scored| s.bits / (s.spend.cost(aim) + BESIDE);
    let enough = tests().filter(|(_, s)| s.bits >= ENOUGH * most);
    enough.max_by(|a, b| rate(a.1).total_cmp(&rate(b.1)).then(b.0.cmp(&a.0))).map(|(i, _)| i)
}

/// The repair that comes first but is not proven, and up to two tests close behind it that cost less than it: where
/// the belief in the repair is a little too high, one of them may be the cheaper beginning.
pub(super) fn to_be_weighed(list: &[Scored], aim: Aim) -> Option<(Scored, Vec<Scored>)> {
    let first = list.first().copied()?;
    let a_moment = !first.fits && first.spend.minutes <= A_MOMENT;
    if !matches!(first.step, Step::Repair(_)) || first.chance >= PROVEN || a_moment {
        return None;
    }
    let cheaper = |s: &&Scored| {
        matches!(s.step, Step::Test(_))
            && s.spend.cost(aim) <= 0.5 * first.spend.cost(aim)
            && s.expected <= first.expected * (1.0 + WEIGHED)
    };
    let tests: Vec<Scored> = list.iter().filter(cheaper).take(2).copied().collect();
    (!tests.is_empty()).then_some((first, tests))
}

/// How far behind the repair such a test may be, as a share.
const WEIGHED: f64 = 0.08;

/// Puts this test first; what cost less is not told apart from it.
pub(super) fn put_first(list: &mut [Scored], test: Step) {
    let Some(at) = list.iter().position(|s| s.step == test) else { return };
    let expected = list[at].expected;
    list[..at].iter_mut().for_each(|s| s.expected = expected);
    list[..=at].rotate_right(1);
}
