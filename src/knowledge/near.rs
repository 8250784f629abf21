//! Near misses: which known words lie close to a mistyped one. Knows words only, not what they stand for.

/// Edit distance with adjacent swaps counted as one slip (optimal string alignment; Damerau 1964).
#[must_use]
pub fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut two_back = vec![0; b.len() + 1];
    let mut back: Vec<usize> = (0..=b.len()).collect();
    let mut row = two_back.clone();
    for i in 1..=a.len() {
        row[0] = i;
        for j in 1..=b.len() {
            let substitution = back[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = substitution.min(back[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(two_back[j - 2] + 1);
            }
        }
        // The oldest row is written over next.
        std::mem::swap(&mut two_back, &mut back);
        std::mem::swap(&mut back, &mut row);
    }
    back[b.len()]
}

/// Up to `most` of the known words that a person may have meant, nearest first, ties by name.
///
/// A word is near when at most a third of its letters differ, or when it contains the typed one.
pub fn near<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>, most: usize) -> Vec<&'a str> {
    let typed = typed.to_lowercase();
    let length = typed.chars().count();
    if typed.is_empty() || length > 200 {
        return Vec::new();
    }
    let mut found: Vec<(usize, &str)> = known
        .into_iter()
        .filter_map(|word| {
            let lower = word.to_lowercase();
            let other = lower.chars().count();
            let longest = length.max(other);
            // Each letter that one has more than the other is a slip already: most words need no further look.
            let slips = (3 * length.abs_diff(other) <= longest).then(|| distance(&typed, &lower));
            let contains =
                || typed.len() >= 3 && (lower.contains(&typed) || typed.contains(&lower) && lower.len() >= 4);
            match slips.filter(|slips| 3 * slips <= longest) {
                Some(slips) => Some((slips, word)),
                None => contains().then(|| (longest / 3 + 1, word)),
            }
        })
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0).then_with(|| a.1.cmp(b.1)));
    found.dedup();
    found.into_iter().take(most).map(|(_, word)| word).collect()
}

/// "did you mean …?" for the words, or nothing when there are none.
#[must_use]
pub fn did_you_mean(words: &[&str]) -> Option<String> {
    let (last, rest) = words.split_last()?;
    Some(if rest.is_empty() {
        format!("did you mean `{last}`?")
    } else {
        let list: Vec<String> = rest.iter().map(|w| format!("`{w}`")).collect();
        format!("did you mean {} or `{last}`?", list.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swap_is_one_slip() {
        assert_eq!(distance("purge", "pugre"), 1);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("valve", "valve"), 0);
    }

    #[test]
    fn the_nearest_comes_first_and_ties_go_by_name() {
        assert_eq!(near("P0456x", ["P0457", "P0455", "P0456"], 2), ["P0456", "P0455"]);
        assert!(near("zzzz", ["purge-valve"], 3).is_empty());
        // Exactly a third of the letters more, and one beyond that.
        assert_eq!(near("abcd", ["a1bc2d", "a1bc2d3"], 3), ["a1bc2d"]);
        assert_eq!(near("a1bc2d", ["abcd"], 3), ["abcd"]);
    }
}
