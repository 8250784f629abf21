//! The engine against enumeration on random small networks, and against exact integers.

use proptest::prelude::*;

use super::brute::{cases, probability};
use super::nets::{close, evidence, network};
use crate::inference::rng::Rng;
use crate::inference::{InferenceError, posterior};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn equals_enumeration(seed in any::<u64>(), suspects in 1_usize..9, findings in 1_usize..8, repairs in 0_usize..2) {
        let mut rng = Rng::new(seed, 0);
        let density = 0.2 + 0.7 * rng.unit();
        let net = network(&mut rng, suspects, findings, density);
        let ev = evidence(&mut rng, &net, repairs);
        let all = cases(&net, &ev);
        let (z, _) = probability(&all, |_| true);
        match posterior(&net, &ev) {
            Err(InferenceError::Impossible { .. }) => prop_assert_eq!(z, 0.0),
            Err(e) => prop_assert!(false, "{e}"),
            Ok(post) => {
                prop_assert!(close(post.ln_evidence.exp(), z) || (post.ln_evidence - z.ln()).abs() < 1e-12);
                for i in 0..suspects {
                    let now = probability(&all, |lived| lived[i] > ev.repairs.len()).1;
                    let start = probability(&all, |lived| lived[i] > 0).1;
                    prop_assert!(close(post.now[i], now), "{} {now}", post.now[i]);
                    prop_assert!(close(post.at_start[i], start), "{} {start}", post.at_start[i]);
                }
            }
        }
    }
}
