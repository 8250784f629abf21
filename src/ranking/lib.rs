//! The answer to `rank`: suspects in order, how sure, why, and the first checks worth doing. Numbers only; how they
//! are shown is a matter of screens.

mod before;
mod checks;

pub use before::Before;
pub use checks::{Check, first_checks};

use evidence::Told;
use inference::{Explanation, InferenceError, Prepared, Weights, When, prevalence};
use network::openings::leak_mm;
use network::{Network, is_not_listed};

/// Draws behind the intervals: the ends of a 90 % interval stand on twenty draws each.
pub const DRAWS: usize = 400;
/// The seed of the draws: the same question gives the same answer.
pub const SEED: u64 = 0x0455;
/// The level of the intervals.
pub const INTERVAL: f64 = 0.90;
/// From this on findings are said to go together rarely: half as often as if they had nothing to do with each other.
const RARE_TOGETHER: f64 = std::f64::consts::LN_2;

/// One suspect's standing.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Index into the network.
    pub suspect: usize,
    /// P(present now | evidence).
    pub probability: f64,
    /// Whether the evidence makes it likelier than on any such car.
    pub raised: bool,
    /// Ends of the interval from parameter uncertainty; nothing for a suspect whose interval was not asked for.
    pub interval: Option<(f64, f64)>,
}

/// Findings that rarely go together.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// How many times rarer together than if unrelated.
    pub times_rarer: f64,
    /// The observation whose removal lowers it most, as an index into the evidence.
    pub check_again: Option<usize>,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Ranking {
    /// All suspects of the network, most probable first, ties by id.
    pub standings: Vec<Standing>,
    /// ln P(evidence).
    pub ln_evidence: f64,
    /// P(at least one cause not listed here is present | evidence), at most their sum; counting those only that the
    /// evidence raises, where it raises any suspect.
    pub not_listed: f64,
    /// Weight of every observation on every suspect, when asked for or when findings rarely go together.
    pub weights: Option<Weights>,
    /// What repairs made before anything was seen did to each suspect, in the order in which they were said.
    pub before: Vec<Before>,
    /// Findings that rarely go together.
    pub conflict: Option<Conflict>,
    /// The most probable sets of suspects.
    pub explanations: Vec<Explanation>,
    /// For likely victims, the causes that probably brought them about, likeliest first, with P(cause | victim, evidence).
    pub because: Vec<(usize, Vec<(usize, f64)>)>,
    /// Within which sizes, in mm, the leak probably lies, where a leak is likely.
    pub leak_mm: Option<(f64, f64)>,
    /// Share of the draws in which the first suspect stays first among those that the evidence bears on, or among all
    /// when it is none of these.
    pub leader_stays: f64,
}

/// What is wanted beside the probabilities.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// The weight of every observation, which takes one more run for each.
    pub weights: bool,
    /// The interval of every suspect; otherwise only of those that the evidence bears on, unless it raises none.
    pub every_interval: bool,
}

/// Ranks the suspects of a network by what was told, whose evidence was prepared with it.
///
/// # Errors
/// Evidence that is impossible or too entangled.
pub fn rank(
    network: &Network,
    told: &Told,
    mut prepared: Prepared<'_>,
    wanted: Wanted,
) -> Result<Ranking, InferenceError> {
    let (posterior, before) = rayon::join(|| prepared.posterior(), || prevalence(network));
    let (posterior, before) = (posterior?, before?);
    let prior = |s: usize| before[s];
    let mut standings: Vec<Standing> = (0..network.suspects.len())
        .map(|suspect| {
            let probability = posterior.now[suspect];
            // Nothing else can make a suspect likelier; a rounding error is no reason.
            let raised = prepared.bears_on(suspect) && probability > prior(suspect);
            Standing { suspect, probability, raised, interval: None }
        })
        .collect();
    standings.sort_by(|a, b| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| network.suspects[a.suspect].id.cmp(&network.suspects[b.suspect].id))
    });
    let any_raised = standings.iter().any(|s| s.raised);
    let leader = standings.first().map_or(0, |s| s.suspect);
    let everyone = wanted.every_interval || !any_raised || !prepared.bears_on(leader);
    let asked: Vec<usize> = (0..network.suspects.len()).filter(|&s| everyone || prepared.bears_on(s)).collect();
    // The draws take most of the time and the rest of the questions about as much, on the other core.
    let mut other = prepared.clone();
    let victims: Vec<usize> = likely_victims(network, &standings);
    let (intervals, rest) = rayon::join(
        || prepared.intervals_of(&asked, DRAWS, SEED, INTERVAL),
        || -> Result<_, InferenceError> {
            let wanted = wanted.weights || other.conflict_above(RARE_TOGETHER)?;
            let weights = wanted.then(|| other.weigh()).transpose()?;
            let because = victims.iter().map(|&v| Ok((v, causes(network, &mut other, v)?)));
            let because = because.collect::<Result<Vec<_>, InferenceError>>()?;
            Ok((weights, other.explain(When::Now, 3, 6, 0.01)?.list, because))
        },
    );
    let (intervals, (weights, explanations, because)) = (intervals?, rest?);
    for s in &mut standings {
        if let Ok(at) = asked.binary_search(&s.suspect) {
            // The exact value lies inside by definition of what is shown, also where the draws are skewed.
            s.interval = Some((intervals.low[at].min(s.probability), intervals.high[at].max(s.probability)));
        }
    }
    let rivals: Vec<usize> = if prepared.bears_on(leader) {
        (0..asked.len()).filter(|&at| prepared.bears_on(asked[at])).collect()
    } else {
        (0..asked.len()).collect()
    };
    let leader_at = asked.binary_search(&leader).unwrap_or(0);
    let leader_stays = intervals.share(|draw| rivals.iter().all(|&r| draw[r] <= draw[leader_at]));
    // Those of monitors that have nothing to do with the evidence stay at their priors and say nothing about this job,
    // unless nothing is raised at all.
    let not_listed: f64 = standings
        .iter()
        .filter(|s| is_not_listed(&network.suspects[s.suspect].id) && (s.raised || !any_raised))
        .map(|s| s.probability)
        // The sum of nothing is minus nought to the library.
        .fold(0.0, |sum, p| sum + p);
    let rare = weights.as_ref().filter(|w| w.ln_conflict > RARE_TOGETHER);
    let conflict = rare.map(|w| Conflict { times_rarer: w.ln_conflict.exp(), check_again: w.most_conflicting });
    Ok(Ranking {
        standings,
        ln_evidence: posterior.ln_evidence,
        not_listed: not_listed.min(1.0),
        weights,
        before: before::before(network, told, &posterior.now)?,
        conflict,
        explanations,
        because: because.into_iter().filter(|(_, causes)| !causes.is_empty()).collect(),
        leak_mm: leak_mm(&posterior.now, &before, &posterior.grades),
        leader_stays,
    })
}

/// Victims whose causes are worth naming.
const LIKELY_VICTIM: f64 = 0.05;
/// Causes worth naming.
const LIKELY_CAUSE: f64 = 0.10;

fn likely_victims(network: &Network, standings: &[Standing]) -> Vec<usize> {
    let victim = |s: &&Standing| network.brings.iter().any(|b| b.victim == s.suspect);
    let likely = standings.iter().filter(|s| s.raised && s.probability >= LIKELY_VICTIM).filter(victim);
    likely.take(5).map(|s| s.suspect).collect()
}

/// What probably brought the victim about.
fn causes(network: &Network, prepared: &mut Prepared<'_>, victim: usize) -> Result<Vec<(usize, f64)>, InferenceError> {
    let given = prepared.given(victim)?.now;
    let causes = network.brings.iter().filter(|b| b.victim == victim).map(|b| (b.cause, given[b.cause]));
    let mut likely: Vec<(usize, f64)> = causes.filter(|c| c.1 >= LIKELY_CAUSE).collect();
    likely.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    Ok(likely)
}
