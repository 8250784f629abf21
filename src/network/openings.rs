//! From the size of an opening to what senses it: a log-normal hole is cut into classes, which are the grades of its suspect,
//! and each class has its own distribution over the levels of a finding.
//!
//! A finding reaches level k when the hole is larger than the limit of that level; the limits scatter log-normally about
//! those of the base, all by the same factor on one vehicle: P(level ≥ k | d) = reach × Φ(ln(d / limit_k) / ln spread). What the
//! limits are in holes follows from the orifice equation; `tests/outside` compares them with it.

use super::Grade;
use knowledge::base::{Opening, Senses};
use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::erf::erf;

/// Upper ends of the classes, in mm; the last has none. A leak monitor tells 0.020 in (0.5 mm) from 0.040 in (1.0 mm) holes,
/// a hose that is off is above 4 mm.
pub const CLASS_ENDS_MM: [f64; 4] = [0.35, 0.75, 1.5, 4.0];

/// Number of classes.
pub const CLASSES: usize = CLASS_ENDS_MM.len() + 1;

/// Sizes at which a class is looked at, by equal shares of what the opening has in it.
const POINTS: usize = 8;

/// Name of a class.
#[must_use]
pub fn class_name(class: usize) -> String {
    match class {
        0 => format!("under {} mm", CLASS_ENDS_MM[0]),
        c if c < CLASS_ENDS_MM.len() => format!("{} to {} mm", CLASS_ENDS_MM[c - 1], CLASS_ENDS_MM[c]),
        _ => format!("over {} mm", CLASS_ENDS_MM[CLASS_ENDS_MM.len() - 1]),
    }
}

/// The ends of a class in mm, nothing and a hundred millimetres at the outside.
#[must_use]
pub fn class_ends(class: usize) -> (f64, f64) {
    let low = if class == 0 { 0.0 } else { CLASS_ENDS_MM[class - 1] };
    (low, CLASS_ENDS_MM.get(class).copied().unwrap_or(100.0))
}

fn phi(x: f64) -> f64 {
    // Beyond eight standard deviations there is nothing that a double could add to 0 or 1.
    if x.abs() > 8.3 {
        return f64::from(u8::from(x > 0.0));
    }
    0.5 * (1.0 + erf(x / std::f64::consts::SQRT_2))
}

/// Share of the opening's holes that are smaller than this.
fn smaller(opening: &Opening, mm: f64) -> f64 {
    if mm <= 0.0 { 0.0 } else { phi((mm / opening.median_mm).ln() / opening.spread.ln()) }
}

/// The classes as grades. Every class keeps a little, so that no size is impossible.
#[must_use]
pub fn grades(opening: &Opening) -> Vec<Grade> {
    const LEAST: f64 = 1e-4;
    let raw: Vec<f64> = (0..CLASSES)
        .map(|c| {
            let (low, high) = class_ends(c);
            let below = if c + 1 == CLASSES { 1.0 } else { smaller(opening, high) };
            (below - smaller(opening, low)).max(LEAST)
        })
        .collect();
    let total: f64 = raw.iter().sum();
    raw.iter().enumerate().map(|(c, share)| Grade { id: class_name(c), share: share / total }).collect()
}

/// Sizes of equal weight that stand for a class of this opening, in mm.
#[must_use]
pub fn sizes(opening: &Opening, class: usize) -> Vec<f64> {
    let (low, high) = class_ends(class);
    let (from, to) = (smaller(opening, low), smaller(opening, high));
    if to - from < 1e-6 {
        // Next to nothing of the opening lies here: the class speaks for itself, evenly in the logarithm.
        let low = low.max(0.1);
        let step = |k: usize| low * (high / low).powf((k as f64 + 0.5) / POINTS as f64);
        return (0..POINTS).map(step).collect();
    }
    // The middle of each of the equal shares, by the inverse of the log-normal distribution.
    let standard = Normal::standard();
    let at = |share: f64| opening.median_mm * (opening.spread.ln() * standard.inverse_cdf(share)).exp();
    (0..POINTS).map(|k| at(from + (to - from) * (k as f64 + 0.5) / POINTS as f64).clamp(low, high)).collect()
}

/// Within which sizes, in mm, eight of ten holes lie when the classes have these probabilities. Within a class the logarithm
/// of the size is taken as evenly spread.
#[must_use]
pub fn implied(classes: &[f64]) -> (f64, f64) {
    let total: f64 = classes.iter().sum();
    let at = |q: f64| {
        let mut left = q * total;
        for (class, p) in classes.iter().enumerate() {
            if left <= *p && *p > 0.0 {
                let (low, high) = class_ends(class);
                // Nobody speaks of leaks below a sixth of a millimetre, and over 4 mm a hose is off.
                let (low, high) = (low.max(0.15), high.min(12.0));
                return low * (high / low).powf(left / p);
            }
            left -= p;
        }
        CLASS_ENDS_MM[CLASS_ENDS_MM.len() - 1]
    };
    (at(0.1), at(0.9))
}

/// The size of the leak, in mm, over all openings that the evidence makes likelier, when together they are likely: `now` are the
/// probabilities given the evidence, `before` those on any such car, `grades` the shares of the grades of each suspect.
#[must_use]
pub fn leak_mm(now: &[f64], before: &[f64], grades: &[Vec<f64>]) -> Option<(f64, f64)> {
    const LIKELY: f64 = 0.5;
    let mut classes = vec![0.0; CLASSES];
    for ((now, before), grades) in now.iter().zip(before).zip(grades) {
        if now > before && grades.len() == CLASSES {
            classes.iter_mut().zip(grades).for_each(|(c, g)| *c += now * g);
        }
    }
    (classes.iter().sum::<f64>() >= LIKELY).then(|| implied(&classes))
}

/// P(level | hole of this size), normal first, for the levels that have limits.
#[must_use]
pub fn levels_at(senses: &Senses, mm: f64) -> Vec<f64> {
    let mut out = vec![0.0; senses.limits_mm.len() + 1];
    add_levels(senses, senses.spread.ln(), mm, &mut out);
    out
}

fn add_levels(senses: &Senses, ln_spread: f64, mm: f64, out: &mut [f64]) {
    let mut reached = 1.0;
    for (level, limit) in senses.limits_mm.iter().enumerate() {
        let next = senses.reach.get() * phi((mm / limit).ln() / ln_spread);
        out[level] += reached - next;
        reached = next;
    }
    out[senses.limits_mm.len()] += reached;
}

/// P(level | class of an opening) for every class, over the levels that have limits, from the sizes that stand for the classes.
#[must_use]
pub fn by_grade(senses: &Senses, classes: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let ln_spread = senses.spread.ln();
    let of_class = |sizes: &Vec<f64>| {
        let mut out = vec![0.0; senses.limits_mm.len() + 1];
        sizes.iter().for_each(|mm| add_levels(senses, ln_spread, *mm, &mut out));
        out.iter_mut().for_each(|p| *p /= sizes.len() as f64);
        out
    };
    classes.iter().map(of_class).collect()
}

/// The same with the levels past the last limit, which have these shares of what passes it.
#[must_use]
pub fn with_beyond(mut levels: Vec<f64>, beyond: &[f64]) -> Vec<f64> {
    let last = levels.len() - 1;
    let all = levels[last];
    for share in beyond {
        levels.push(all * share);
        levels[last] -= all * share;
    }
    levels
}

#[cfg(test)]
mod tests {
    use super::*;
    use knowledge::base::Section;
    use knowledge::number::Probability;

    fn opening(median_mm: f64) -> Opening {
        Opening { median_mm, spread: 2.0, at: Section::Cap }
    }

    #[test]
    fn shares_add_up_and_follow_the_median() {
        for median in [0.2, 0.9, 3.0, 20.0] {
            let grades = grades(&opening(median));
            assert!((grades.iter().map(|g| g.share).sum::<f64>() - 1.0).abs() < 1e-12);
            let below: f64 = (0..CLASSES).filter(|c| class_ends(*c).1 <= median).map(|c| grades[c].share).sum();
            assert!(below <= 0.5 + 1e-3, "{median}");
        }
        // Half of a log-normal lies below its median, whatever its spread.
        let at_end = grades(&opening(1.5));
        assert!((at_end[..3].iter().map(|g| g.share).sum::<f64>() - 0.5).abs() < 1e-3);
    }

    #[test]
    fn larger_holes_reach_higher_levels() {
        let reach = Probability::new(0.8).unwrap();
        let senses = Senses { sections: vec![Section::Cap], limits_mm: vec![0.5, 1.0, 2.3], spread: 1.25, reach };
        let classes: Vec<Vec<f64>> = (0..CLASSES).map(|class| sizes(&opening(1.2), class)).collect();
        let rows: Vec<Vec<f64>> = by_grade(&senses, &classes).into_iter().map(|row| with_beyond(row, &[0.4])).collect();
        for row in &rows {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            assert!((row[4] - 0.4 / 0.6 * row[3]).abs() < 1e-12);
        }
        for k in 1..4 {
            let reached = |row: &Vec<f64>| row[k..].iter().sum::<f64>();
            assert!(rows.windows(2).all(|w| reached(&w[0]) <= reached(&w[1]) + 1e-12));
        }
        let at_limit = levels_at(&senses, 1.0);
        assert!((at_limit[2..].iter().sum::<f64>() - 0.4).abs() < 1e-9);
    }

    #[test]
    fn the_size_implied_is_where_the_classes_are() {
        let (low, high) = implied(&[0.0, 1.0, 0.0, 0.0, 0.0]);
        assert!(low > 0.35 && low < 0.4 && high > 0.69 && high < 0.75, "{low} {high}");
        let (low, high) = implied(&[0.05, 0.05, 0.8, 0.05, 0.05]);
        assert!((low - 0.75).abs() < 1e-9 && (high - 1.5).abs() < 1e-9, "{low} {high}");
    }

    #[test]
    fn a_leak_has_a_size_where_it_is_likely() {
        let grades = [vec![0.0, 1.0, 0.0, 0.0, 0.0], vec![0.0, 0.0, 0.0, 0.0, 1.0], Vec::new()];
        // The second is no likelier than on any car, the third is no opening.
        let (low, high) = leak_mm(&[0.6, 0.1, 0.3], &[0.1, 0.1, 0.1], &grades).unwrap();
        assert!(low > 0.35 && high < 0.75, "{low} {high}");
        assert_eq!(leak_mm(&[0.4, 0.1, 0.9], &[0.1, 0.1, 0.1], &grades), None);
    }

    #[test]
    fn sizes_lie_in_their_class() {
        for class in 0..CLASSES {
            let (low, high) = class_ends(class);
            assert!(sizes(&opening(1.0), class).iter().all(|mm| (low..=high).contains(mm)));
        }
    }
}
