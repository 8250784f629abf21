//! What symptoms speak for. Also a module of the build script, which packs it for the shipped base.

use inference::{InferenceError, Related};
use knowledge::base::Base;
use network::Network;
use std::collections::BTreeMap;

/// What symptoms speak for, by symptom, and the names of the suspects among that, by id.
pub type Speaks = (BTreeMap<String, Related>, BTreeMap<String, String>);

/// What each of the symptoms speaks for on the network's vehicle, of which nothing else is known.
///
/// # Errors
/// A network that inference refuses.
pub fn speaks_of<'s>(
    base: &Base,
    network: &Network,
    symptoms: impl Iterator<Item = &'s str>,
) -> Result<Speaks, InferenceError> {
    let related = inference::related(network, symptoms)?;
    let suspects = related.values().flat_map(|r| &r.suspects);
    let names = suspects.map(|s| (s.id.clone(), base.suspect_name(&s.id))).collect();
    Ok((related, names))
}
