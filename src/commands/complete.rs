//! What the shells complete from the base: codes, suspects, tests and what they show, symptoms, tools, words about the car. The
//! shells send the words that are typed so far; which of them is meant to be what is read off the command line's own
//! description, by the names that its values have there.

use super::{Ending, Io, Loaded, Stop};
use clap::{Arg, ArgAction, Command, CommandFactory};
use cli::Cli;
use knowledge::base::{Base, Test};
use screens::kb_list::entries;
use std::path::Path;

/// Prints what the last of the words may become, a line each: the word, a tab, what it is.
pub(super) fn run(words: &[String], base: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let Some((asked, prefix)) = asked(words) else { return Ok(Ending::Done) };
    let loaded = Loaded::new(base, io)?;
    // What stands before the value: `--option=`, and what a list already holds.
    let (before, prefix) = prefix;
    for (word, meaning) in asked.words(loaded.base, prefix) {
        if begins(&word, prefix) {
            io.out.write_all(format!("{before}{word}\t{}\n", meaning.replace(['\t', '\n'], " ")).as_bytes())?;
        }
    }
    Ok(Ending::Done)
}

/// Whether the word begins so, in whatever letters: codes are typed small.
fn begins(word: &str, prefix: &str) -> bool {
    word.get(..prefix.len()).is_some_and(|w| w.eq_ignore_ascii_case(prefix))
}

/// What a value may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Asked {
    /// Entries of these kinds, as `kb list` calls them.
    Ids(&'static [&'static str]),
    /// A test or reading, and after `=` what it showed.
    Results,
}

impl Asked {
    /// By the name that a value has on the command line.
    fn of(arg: &Arg) -> Option<Self> {
        let name = arg.get_value_names().and_then(|n| n.first()).map_or("", |n| n.as_str());
        Some(match (arg.get_id().as_str(), name) {
            ("vehicle", _) => Self::Ids(&["vehicle"]),
            // A part stands for all that can be seen of it.
            ("sound", _) => Self::Ids(&["suspects", "parts"]),
            ("id", _) => Self::Ids(&[
                "codes", "monitors", "parts", "suspects", "repairs", "tests", "symptoms", "tools", "setups",
                "cautions", "sources",
            ]),
            (_, "CODE") => Self::Ids(&["codes"]),
            (_, "SYMPTOM") => Self::Ids(&["symptoms"]),
            (_, "SUSPECT") => Self::Ids(&["suspects"]),
            (_, "REPAIR") => Self::Ids(&["repairs"]),
            (_, "STEP") => Self::Ids(&["tests", "repairs"]),
            (_, "MONITOR") => Self::Ids(&["monitors"]),
            (_, "TOOL" | "TOOLS") => Self::Ids(&["tools"]),
            (_, "TEST=OUTCOME") => Self::Results,
            _ => return None,
        })
    }

    fn words(self, base: &Base, prefix: &str) -> Vec<(String, String)> {
        match self {
            Self::Ids(kinds) => kinds.iter().filter_map(|kind| entries(base, kind)).flatten().collect(),
            Self::Results => results(base, prefix),
        }
    }
}

/// Tests with `=`; their readings once a colon is typed; what a test or reading may show once `=` is.
fn results(base: &Base, prefix: &str) -> Vec<(String, String)> {
    let Some((what, _)) = prefix.split_once('=') else {
        return match prefix.split_once(':') {
            None => base.tests.iter().map(|t| (format!("{}=", t.id), t.name.clone())).collect(),
            Some((test, _)) => {
                let readings = base.tests.iter().filter(|t| t.id == test).flat_map(|t| t.readings.iter());
                readings.map(|r| (format!("{}=", r.id), r.name.clone())).collect()
            }
        };
    };
    let test = |t: &&Test| t.id == what || t.readings.iter().any(|r| r.id == what);
    let Some(test) = base.tests.iter().find(test) else { return Vec::new() };
    let mut out = vec![("pass", "normal".to_owned()), ("unclear", "tried, and it could not be told".to_owned())];
    // Of several readings, the one that failed must be named.
    if let Some(reading) = test.readings.iter().find(|r| r.id == what || test.readings.len() == 1) {
        out.push(("fail", "abnormal".to_owned()));
        if reading.levels.len() > 2 {
            out.extend(reading.levels.iter().map(|l| (l.as_str(), reading.name.clone())));
        }
    }
    out.into_iter().map(|(word, meaning)| (format!("{what}={word}"), meaning)).collect()
}

/// What the last word is meant to be; what stands before its value, and the value as far as it is typed.
fn asked(words: &[String]) -> Option<(Asked, (String, &str))> {
    let (last, typed) = words.split_last()?;
    let mut line = Cli::command();
    line.build();
    let mut at = &line;
    let (mut place, mut waiting): (usize, Option<&Arg>) = (0, None);
    for word in typed {
        if waiting.take().is_some() {
            continue;
        }
        if word.starts_with('-') && word.len() > 1 {
            waiting = option(at, word).filter(|_| !word.contains('='));
        } else if let Some(below) = at.find_subcommand(word) {
            (at, place) = (below, 0);
        } else {
            place += 1;
        }
    }
    let (arg, before, value) = match waiting {
        Some(arg) => (arg, String::new(), last.as_str()),
        None if last.starts_with('-') => {
            let (name, value) = last.split_once('=')?;
            (option(at, name)?, format!("{name}="), value)
        }
        None => (positional(at, place)?, String::new(), last.as_str()),
    };
    let asked = Asked::of(arg)?;
    let comma = arg.get_value_delimiter().or((asked == Asked::Ids(&["vehicle"])).then_some(','));
    let held = comma.and_then(|c| value.rfind(c)).map_or(0, |at| at + 1);
    Some((asked, (before + &value[..held], &value[held..])))
}

/// The option of that name that takes a value.
fn option<'a>(at: &'a Command, word: &str) -> Option<&'a Arg> {
    let name = word.split_once('=').map_or(word, |(name, _)| name);
    let named = |a: &&Arg| match name.strip_prefix("--") {
        Some(long) => a.get_long() == Some(long),
        None => name.strip_prefix('-').is_some_and(|s| a.get_short().is_some_and(|c| s == c.to_string())),
    };
    at.get_arguments().find(named).filter(|a| matches!(a.get_action(), ArgAction::Set | ArgAction::Append))
}

/// The value without a name at that place; the last one goes on if it may be several.
fn positional(at: &Command, place: usize) -> Option<&Arg> {
    let all: Vec<&Arg> = at.get_positionals().collect();
    let several = |a: &&&Arg| matches!(a.get_action(), ArgAction::Append);
    all.get(place).or_else(|| all.last().filter(several)).copied()
}

/// What `faultodds completions` prints: the script that follows from the command line, and around it what asks for the base's
/// words first.
pub(super) fn script(shell: clap_complete::Shell, plain: &str) -> String {
    use clap_complete::Shell;
    // The generator does not leave out what is hidden.
    let shown = |line: &&str| !line.contains("-a \"complete\"") && !line.starts_with("'complete:");
    let plain: String = plain.lines().filter(shown).map(|l| format!("{l}\n")).collect();
    let plain = plain.replace(" completions complete ", " completions ");
    match shell {
        Shell::Bash => format!("{plain}\n{BASH}"),
        Shell::Zsh => {
            let renamed = plain.replacen("\n_faultodds() {", "\n_faultodds_line() {", 1);
            match renamed.find("if [ \"$funcstack[1]\"") {
                Some(end) => format!("{}{ZSH}\n{}", &renamed[..end], &renamed[end..]),
                None => plain,
            }
        }
        Shell::Fish => {
            let asks = |line: &str| match line.strip_suffix(" -r") {
                Some(_) => format!("{line} -f -a \"(__faultodds_of_the_base)\"\n"),
                None => format!("{line}\n"),
            };
            format!("{FISH}{}", plain.lines().map(asks).collect::<String>())
        }
        _ => plain,
    }
}

/// Bash takes a word apart at `=` and `:`; what it is handed back begins at the last of them.
const BASH: &str = r#"# Words of the base first; whatever is none of them as above.
_faultodds_with_base() {
    local typed rest one
    read -ra typed <<<"${COMP_LINE:0:COMP_POINT}"
    [[ ${COMP_LINE:0:COMP_POINT} == *[[:space:]] ]] && typed+=("")
    rest=$(faultodds complete -- "${typed[@]:1}" 2>/dev/null)
    if [[ -z $rest ]]; then
        _faultodds "$@"
        return
    fi
    local whole=${typed[${#typed[@]} - 1]} cut=""
    [[ $COMP_WORDBREAKS == *=* && $whole == *=* ]] && cut=${whole%=*}=
    [[ $COMP_WORDBREAKS == *:* && ${whole#"$cut"} == *:* ]] && cut=${whole%:*}:
    COMPREPLY=()
    while IFS=$'\t' read -r one _; do
        COMPREPLY+=("${one:${#cut}}")
        [[ $one == *= ]] && compopt -o nospace 2>/dev/null
    done <<<"$rest"
}
complete -F _faultodds_with_base -o nosort -o bashdefault -o default faultodds 2>/dev/null ||
    complete -F _faultodds_with_base -o bashdefault -o default faultodds
"#;

const ZSH: &str = r#"# Words of the base first; whatever is none of them as above.
_faultodds() {
    local -a answer found meant
    local one
    answer=("${(@f)$(faultodds complete -- "${(@)words[2,CURRENT-1]}" "$PREFIX" 2>/dev/null)}")
    for one in $answer; do
        found+=("${one%%$'\t'*}")
        meant+=("${one%%$'\t'*}  ${one#*$'\t'}")
    done
    if (( ! $#found )); then
        _faultodds_line "$@"
    elif [[ $found[1] == *= ]]; then
        compadd -U -Q -S '' -l -d meant -a found
    else
        compadd -U -Q -l -d meant -a found
    fi
}
"#;

const FISH: &str = r#"# Words of the base first; whatever is none of them as below.
function __faultodds_of_the_base
    set -l typed (commandline -opc)
    faultodds complete -- $typed[2..] (commandline -ct) 2>/dev/null
end
complete -c faultodds -n 'test -n "$(__faultodds_of_the_base)"' -f -a "(__faultodds_of_the_base)"
"#;
