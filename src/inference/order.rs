//! In which order should the suspects pass, so that few findings are open at a time? A heuristic: any order is
//! correct, a good one is narrow.

use std::collections::BTreeSet;

/// Sets of digits as bits.
type Set = u128;

/// Estimated cells above which a wider search for the order pays for itself, with its beam width.
const BEAMS: [(f64, usize); 3] = [(32_768.0, 16), (524_288.0, 128), (8_388_608.0, 512)];

/// Order of the items (suspects), given the number of groups of each digit and the digits of each item.
///
/// Works on the closing order of the digits, as for the path width of a graph: closing a digit needs every item
/// that touches it, which opens all its neighbours. First greedily, then by beam search if that was wide.
pub(crate) fn order(groups: &[usize], items: &[Vec<usize>]) -> Vec<usize> {
    if groups.len() > Set::BITS as usize {
        // Sets of more digits do not fit; by first digit is still correct, and local structure stays local.
        let mut by_first: Vec<usize> = (0..items.len()).collect();
        by_first.sort_by_key(|&i| (items[i].iter().min().copied(), i));
        return by_first;
    }
    let masks: Vec<Set> = items.iter().map(|ds| ds.iter().fold(0, |m, &d| m | (1 << d))).collect();
    let graph = Graph::new(groups, &masks);
    let (mut closing, mut cost) = graph.search(1);
    for (from, width) in BEAMS {
        if cost > from {
            let (other, found) = graph.search(width);
            if found < cost {
                (closing, cost) = (other, found);
            }
        }
    }
    graph.items_in(&closing, &masks)
}

struct Graph {
    /// Digits that share an item with this digit, itself included.
    near: Vec<Set>,
    /// log2 of the number of groups beyond the first bit, for digits with more than two groups.
    extra: Vec<(Set, f64)>,
}

#[derive(Clone)]
struct State {
    closed: Set,
    open: Set,
    cost: f64,
    closing: Vec<u8>,
}

impl Graph {
    fn new(groups: &[usize], masks: &[Set]) -> Self {
        let near = (0..groups.len())
            .map(|d| masks.iter().filter(|&m| m >> d & 1 == 1).fold(1 << d, |all, m| all | m))
            .collect();
        let extra = groups.iter().enumerate().filter(|(_, g)| **g > 2);
        let extra = extra.map(|(d, &g)| (1 << d, (g as f64).log2() - 1.0)).collect();
        Self { near, extra }
    }

    /// Cells of a table over these digits.
    fn cells(&self, digits: Set) -> f64 {
        let extra: f64 = self.extra.iter().filter(|(d, _)| d & digits != 0).map(|(_, x)| x).sum();
        (f64::from(digits.count_ones()) + extra).exp2()
    }

    /// Beam search over closing orders; width 1 is greedy. Returns the order and its estimated cells.
    fn search(&self, width: usize) -> (Vec<u8>, f64) {
        let n = self.near.len();
        let mut beam = vec![State { closed: 0, open: 0, cost: 0.0, closing: Vec::new() }];
        for _ in 0..n {
            // Candidates: score, closed set after, index of the state, digit.
            let mut next: Vec<(f64, Set, usize, usize)> = Vec::with_capacity(beam.len() * n);
            for (s, state) in beam.iter().enumerate() {
                for d in (0..n).filter(|d| state.closed >> d & 1 == 0) {
                    let wide = (state.open | self.near[d]) & !state.closed;
                    let score = state.cost + self.cells(wide) + self.cells(wide & !(1 << d));
                    next.push((score, state.closed | 1 << d, s, d));
                }
            }
            next.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let (mut kept, mut taken): (Vec<State>, BTreeSet<Set>) = (Vec::with_capacity(width), BTreeSet::new());
            for (_, closed, s, d) in next {
                if kept.len() == width {
                    break;
                }
                if !taken.insert(closed) {
                    continue;
                }
                let state = &beam[s];
                let wide = (state.open | self.near[d]) & !state.closed;
                let mut closing = state.closing.clone();
                closing.push(d as u8);
                kept.push(State { closed, open: wide & !(1 << d), cost: state.cost + self.cells(wide), closing });
            }
            beam = kept;
        }
        let best = beam.into_iter().min_by(|a, b| a.cost.total_cmp(&b.cost));
        best.map_or((Vec::new(), 0.0), |s| (s.closing, s.cost))
    }

    /// The items in an order that closes the digits as given: for each digit the items that open least first,
    /// and every item that opens nothing as soon as possible.
    fn items_in(&self, closing: &[u8], masks: &[Set]) -> Vec<usize> {
        let mut left: Vec<usize> = (0..masks.len()).collect();
        let (mut seen, mut out): (Set, Vec<usize>) = (0, Vec::with_capacity(masks.len()));
        for &d in closing {
            loop {
                let touching = left.iter().filter(|&&i| masks[i] >> d & 1 == 1);
                let Some(&best) = touching.min_by_key(|&&i| ((masks[i] & !seen).count_ones(), i)) else { break };
                seen |= masks[best];
                left.retain(|&i| {
                    let ready = masks[i] & !seen == 0;
                    if ready {
                        out.push(i);
                    }
                    !ready
                });
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chain_is_walked_from_one_end() {
        let items: Vec<Vec<usize>> = [3, 0, 2, 1, 4].iter().map(|&d| vec![d, d + 1]).collect();
        let order = order(&[2; 6], &items);
        assert!(order == [1, 3, 2, 0, 4] || order == [4, 0, 2, 3, 1]);
    }

    #[test]
    fn every_item_comes_once_even_with_many_digits() {
        let items: Vec<Vec<usize>> = (0..200).map(|d| vec![d, (d + 1) % 201]).collect();
        let mut order = order(&[2; 201], &items);
        order.sort_unstable();
        assert_eq!(order, (0..200).collect::<Vec<_>>());
    }
}
