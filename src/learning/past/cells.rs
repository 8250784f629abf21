//! What single cells of a shop's spreadsheet say: dates, amounts, times, distances, codes. Guesses nothing that the
//! mapping has to declare.

use jiff::civil::Date;

/// Order of the parts of a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// Year, month, day.
    Ymd,
    /// Day, month, year.
    Dmy,
    /// Month, day, year.
    Mdy,
}

impl DateOrder {
    /// All of them with their words.
    pub const WORDS: [(Self, &'static str); 3] = [(Self::Ymd, "ymd"), (Self::Dmy, "dmy"), (Self::Mdy, "mdy")];
}

/// Reads a date. Months may be written as words; a time behind it is left out; years of two digits are 1970 to 2069. A year of
/// four digits in front is the year whatever the order, and a bare number of five is a spreadsheet's day number.
///
/// # Errors
/// Why the cell is no date in this order.
pub fn date(cell: &str, order: DateOrder) -> Result<Date, String> {
    let no = || {
        format!(
            "`{}` is not a date in the order {}",
            short(cell),
            DateOrder::WORDS.iter().find(|w| w.0 == order).map_or("", |w| w.1)
        )
    };
    if let Some(date) = day_number(cell) {
        return Ok(date);
    }
    let day_only =
        cell.split(['T', ' ']).next().filter(|d| d.contains(['-', '/', '.']) && d.len() >= 6).unwrap_or(cell);
    let parts: Vec<&str> = day_only.split(['-', '/', '.', ' ', ',']).filter(|p| !p.is_empty()).collect();
    let [a, b, c] = parts.as_slice() else { return Err(no()) };
    let (y, m, d) = match order {
        _ if year_first(cell) => (a, b, c),
        DateOrder::Ymd => (a, b, c),
        DateOrder::Dmy => (c, b, a),
        DateOrder::Mdy => (c, a, b),
    };
    let month = m.parse().ok().or_else(|| month_word(m)).ok_or_else(no)?;
    let mut year: i16 = y.parse().map_err(|_| no())?;
    if y.len() == 2 {
        year += if year < 70 { 2000 } else { 1900 };
    }
    Date::new(year, month, d.parse().map_err(|_| no())?).map_err(|_| no())
}

/// Whether the cell begins with a year of four digits, as ISO 8601 has it: that can be read in one way only.
fn year_first(cell: &str) -> bool {
    let digits = cell.chars().take_while(char::is_ascii_digit).count();
    digits == 4 && cell.chars().nth(4).is_some_and(|c| matches!(c, '-' | '/' | '.'))
}

/// The day of a spreadsheet's day number, counted from the end of 1899; those of 1954 to 2064 are taken for such.
fn day_number(cell: &str) -> Option<Date> {
    let (whole, part) = cell.split_once(['.', ',']).unwrap_or((cell, "0"));
    let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    let days: i64 = Some(whole).filter(|w| w.len() == 5 && digits(w) && digits(part))?.parse().ok()?;
    use jiff::ToSpan as _;
    (20_000..60_000).contains(&days).then(|| Date::constant(1899, 12, 30).checked_add(days.days()).ok()).flatten()
}

/// Months as they are written in English, German, French and Spanish, by their beginnings.
fn month_word(word: &str) -> Option<i8> {
    const MONTHS: [&[&str]; 12] = [
        &["jan", "jän", "ene"],
        &["feb", "fév", "fev"],
        &["mar", "mär", "mrz"],
        &["apr", "avr", "abr"],
        &["may", "mai"],
        &["jun", "juin"],
        &["jul", "juil"],
        &["aug", "aoû", "aou", "ago"],
        &["sep"],
        &["oct", "okt"],
        &["nov"],
        &["dec", "dez", "déc", "dic"],
    ];
    let word = word.to_lowercase();
    (1..).zip(MONTHS).find(|(_, m)| m.iter().any(|m| word.starts_with(m))).map(|(i, _)| i)
}

/// What cells of a column of dates allow: the orders under which all of them are dates.
#[must_use]
pub fn possible_orders(cells: &[&str]) -> Vec<DateOrder> {
    // What can be read in one way only says nothing of the others.
    let local: Vec<&str> = cells.iter().filter(|c| !year_first(c) && day_number(c).is_none()).copied().collect();
    if local.is_empty() && !cells.is_empty() {
        return vec![DateOrder::Ymd];
    }
    let cells = local.as_slice();
    let all = DateOrder::WORDS.iter().map(|w| w.0);
    all.filter(|o| {
        let read: Vec<Option<Date>> =
            cells.iter().map(|c| date(c, *o).ok().filter(|d| d.year() >= 1980 && d.year() < 2070)).collect();
        // A few blunders in a column do not rule an order out.
        !cells.is_empty() && read.iter().filter(|d| d.is_some()).count() * 20 >= cells.len() * 19
    })
    .collect()
}

/// Reads a number with a currency sign, thousands and a decimal mark as the shop writes them.
///
/// # Errors
/// Why it is none.
pub fn amount(cell: &str, decimal: char) -> Result<f64, String> {
    let no = || format!("`{}` is not a number with the decimal mark `{decimal}`", short(cell));
    let thousands = if decimal == ',' { '.' } else { ',' };
    let bare: String =
        cell.chars().filter(|c| !c.is_whitespace() && !matches!(c, '$' | '€' | '£' | '\'' | '\u{a0}')).collect();
    let negative = bare.starts_with('-') || (bare.starts_with('(') && bare.ends_with(')'));
    let bare = bare.trim_matches(['-', '+', '(', ')']);
    let bare = bare.trim_end_matches(|c: char| c.is_alphabetic());
    let (whole, part) = bare.split_once(decimal).unwrap_or((bare, ""));
    let groups: Vec<&str> = whole.split(thousands).collect();
    // "1,5" under a decimal point is a slip or another convention, not fifteen.
    if groups.len() > 1 && groups[1..].iter().any(|g| g.len() != 3) {
        return Err(no());
    }
    let digits = |s: &str| s.chars().all(|c| c.is_ascii_digit());
    let whole = groups.concat();
    // Hundreds of digits would be an infinite number, and no amount has more than eighteen.
    if (whole.is_empty() && part.is_empty()) || whole.len() > 18 || !digits(&whole) || !digits(part) {
        return Err(no());
    }
    let value: f64 =
        format!("{whole}.{part}0").parse().or_else(|_| format!("0{whole}.{part}0").parse()).map_err(|_| no())?;
    Ok(if negative { -value } else { value })
}

/// Reads a time in minutes: `1:30`, `90 min`, `1.5 h`, or a bare number in the unit that the mapping declares.
///
/// # Errors
/// Why it is none.
pub fn minutes(cell: &str, decimal: char, bare_is_hours: bool) -> Result<f64, String> {
    let lower = cell.to_lowercase();
    if let Some((h, m)) = lower.split_once(':')
        && let (Ok(h), Ok(m)) = (h.trim().parse::<u32>(), m.trim().parse::<u32>())
        && m < 60
    {
        return Ok(f64::from(h) * 60.0 + f64::from(m));
    }
    let value = amount(cell, decimal)?;
    let unit = lower.trim_start_matches(|c: char| !c.is_alphabetic());
    match unit.trim_end_matches('.') {
        "" => Ok(if bare_is_hours { value * 60.0 } else { value }),
        "h" | "hr" | "hrs" | "hour" | "hours" => Ok(value * 60.0),
        "m" | "min" | "mins" | "minute" | "minutes" => Ok(value),
        _ => Err(format!("`{}` has a unit that is neither hours nor minutes", short(cell))),
    }
}

/// Reads a distance in km: `123k`, `98,000 mi`, `157000 km`, or a bare number in the unit that the mapping declares.
///
/// # Errors
/// Why it is none.
pub fn km(cell: &str, decimal: char, bare_is_miles: bool) -> Result<f64, String> {
    const KM_IN_MILE: f64 = 1.609_344;
    let lower = cell.to_lowercase();
    let unit: String = lower.chars().filter(|c| c.is_alphabetic()).collect();
    let (thousand, unit) = match unit.strip_prefix('k') {
        Some(rest) if rest != "m" && rest != "ms" => (1000.0, rest),
        _ => (1.0, unit.as_str()),
    };
    let digits: String = lower.chars().filter(|c| !c.is_alphabetic()).collect();
    let value = amount(&digits, decimal)? * thousand;
    let miles = match unit {
        "" => bare_is_miles,
        "km" | "kms" | "kilometres" | "kilometers" => false,
        "mi" | "mls" | "mile" | "miles" => true,
        _ => return Err(format!("`{}` has a unit that is neither km nor miles", short(cell))),
    };
    Ok(if miles { value * KM_IN_MILE } else { value })
}

/// The trouble codes in a cell, however they are run together: sorted, none twice.
#[must_use]
pub fn codes(cell: &str) -> Vec<String> {
    let letters: Vec<char> = cell
        .to_uppercase()
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || matches!(c, ',' | ';' | '/' | '+' | '|' | '\n'))
        .collect();
    let mut out = Vec::new();
    let mut i = 0;
    while i + 5 <= letters.len() {
        let is_code = matches!(letters[i], 'P' | 'B' | 'C' | 'U')
            && letters[i + 1].is_ascii_digit()
            && letters[i + 2..i + 5].iter().all(char::is_ascii_hexdigit);
        if is_code {
            out.push(letters[i..i + 5].iter().collect::<String>());
            i += 5;
        } else {
            i += 1;
        }
    }
    out.sort();
    out.dedup();
    out
}

/// Whether a cell would be run as a formula by a spreadsheet.
#[must_use]
pub fn is_formula(cell: &str) -> bool {
    cell.starts_with(['=', '@'])
        || (cell.starts_with(['+', '-']) && cell.chars().nth(1).is_some_and(char::is_alphabetic))
}

/// The beginning of a cell, for messages, without control characters.
#[must_use]
pub fn short(cell: &str) -> String {
    let mut out: String = cell.chars().filter(|c| !c.is_control()).take(40).collect();
    if cell.chars().count() > 40 {
        out.push('…');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date as ymd;

    #[test]
    fn dates_follow_the_declared_order() {
        assert_eq!(date("03/04/2021", DateOrder::Dmy), Ok(ymd(2021, 4, 3)));
        assert_eq!(date("03/04/2021", DateOrder::Mdy), Ok(ymd(2021, 3, 4)));
        assert_eq!(date("2021-04-03 08:15", DateOrder::Ymd), Ok(ymd(2021, 4, 3)));
        assert_eq!(date("3 Apr 2021", DateOrder::Dmy), Ok(ymd(2021, 4, 3)));
        assert_eq!(date("3.4.21", DateOrder::Dmy), Ok(ymd(2021, 4, 3)));
        // Beside local dates: ISO dates, and day numbers of a spreadsheet (44289 is 3 April 2021 in every one of them).
        for order in DateOrder::WORDS.map(|w| w.0) {
            assert_eq!(date("2021-04-03", order), Ok(ymd(2021, 4, 3)));
            assert_eq!(date("44289", order), Ok(ymd(2021, 4, 3)));
            assert_eq!(date("44289.75", order), Ok(ymd(2021, 4, 3)));
        }
        for months in ["3. März 2021", "3 mars 2021", "3 marzo 2021", "3 Mrz 2021"] {
            assert_eq!(date(months, DateOrder::Dmy), Ok(ymd(2021, 3, 3)), "{months}");
        }
        assert_eq!(date("3 juillet 2021", DateOrder::Dmy), Ok(ymd(2021, 7, 3)));
        assert_eq!(date("3 Dez 2021", DateOrder::Dmy), Ok(ymd(2021, 12, 3)));
        for bad in ["31/02/2021", "soon", "", "1/2", "13/13/2021", "2021"] {
            assert!(date(bad, DateOrder::Dmy).is_err(), "{bad}");
        }
    }

    #[test]
    fn an_order_is_only_known_when_the_days_show_it() {
        assert_eq!(possible_orders(&["03/04/2021", "05/06/2021"]), [DateOrder::Dmy, DateOrder::Mdy]);
        assert_eq!(possible_orders(&["03/04/2021", "25/06/2021"]), [DateOrder::Dmy]);
        assert_eq!(possible_orders(&["2021-01-02"]), [DateOrder::Ymd]);
        assert_eq!(possible_orders(&["2021-01-02", "25/06/2021", "44289"]), [DateOrder::Dmy]);
    }

    #[test]
    fn amounts_follow_the_declared_mark() {
        assert_eq!(amount("$1,234.50", '.'), Ok(1234.5));
        assert_eq!(amount("1.234,50 €", ','), Ok(1234.5));
        assert_eq!(amount("-3.5", '.'), Ok(-3.5));
        assert_eq!(amount(".5", '.'), Ok(0.5));
        assert_eq!(amount("0.00", '.'), Ok(0.0));
        assert!(amount(&"9".repeat(400), '.').is_err());
        for bad in ["1,5", "", "abc", "1.2.3", "=1+2", "--"] {
            assert!(amount(bad, '.').is_err(), "{bad}");
        }
    }

    #[test]
    fn times_and_distances_carry_their_units() {
        assert_eq!(minutes("1:30", '.', true), Ok(90.0));
        assert_eq!(minutes("1.5", '.', true), Ok(90.0));
        assert_eq!(minutes("90 min", '.', true), Ok(90.0));
        assert_eq!(minutes("1,5h", ',', false), Ok(90.0));
        assert_eq!(km("157000 km", '.', true), Ok(157_000.0));
        assert_eq!(km("123k", '.', false), Ok(123_000.0));
        assert_eq!(km("120k mi", '.', false), Ok(120_000.0 * 1.609_344));
        assert_eq!(km("98,000", '.', true), Ok(98_000.0 * 1.609_344));
        assert!(km("12 parsecs", '.', true).is_err() && minutes("2 d", '.', true).is_err());
    }

    #[test]
    fn codes_are_found_in_any_writing() {
        assert_eq!(codes("p0442, P 0455/P0441"), ["P0441", "P0442", "P0455"]);
        assert_eq!(codes("P0442P0442 and a note"), ["P0442"]);
        assert_eq!(codes("evap P04EA?"), ["P04EA"]);
        assert!(codes("none").is_empty());
    }

    #[test]
    fn formulas_are_known() {
        assert!(is_formula("=cmd|' /C calc'!A0") && is_formula("@SUM(1)") && is_formula("+cmd"));
        assert!(!is_formula("-3.5") && !is_formula("purge valve = bad"));
    }
}
