//! The turns of phrase by which a query says what sort of answer it wants. Lists only; `intent` reads them.

use super::entry::EntryKind;

/// Turns of phrase that ask for one sort of answer.
pub(super) struct Turns {
    /// The sort.
    pub kind: EntryKind,
    /// How clearly they ask for it, 1 beyond doubt.
    pub strength: f32,
    /// The phrases, parted by `|`; in them `*` stands for any word.
    pub phrases: &'static str,
}

/// What hands do to a part to put it right.
pub(super) const HANDS: &str = "change clean clear degrease exchange fasten fit loosen lubricate mend poke push reattach rebuild reconnect \
                                refill refit renew repair replace reposition reroute reseal reseat rewire rinse scrape shorten straighten \
                                swap tighten unblock unclog wash";

/// The same, with words that are things as well: an oil cap is not oiled. They count where their object follows with an article.
pub(super) const HANDS_OR_THINGS: &str = "bend bolt bond clip crimp dig dry free glue grease hang lube oil paint patch screw seal solder spray tape \
                                          top vacuum";

/// All of them, stronger ones of a kind first.
pub(super) const TURNS: &[Turns] = &[
    Turns {
        kind: EntryKind::Caution,
        strength: 1.0,
        phrases: "keep hands|keep away|keep clear|stay clear|no smoking|not smoking|safe|safely|safety|unsafe|\
                  dangerous|danger|hazard|hazards|hazardous|risk|risks|risky|ok to|okay to|alright to|all right to|\
                  fine to|may i|may one|may we|allowed to|am i allowed|is it allowed|permitted|legal|illegal|lawful|\
                  against the law|legally|precaution|precautions|careful|explode|explosion|ignite|catch fire|set fire|\
                  set on fire|go up in flames|blow up|burn myself|get burned|get burnt|hurt myself|electrocuted|\
                  get a shock|get shocked|kill me|kill you|poisonous|toxic|harmful|bad idea|get away with|\
                  do i need gloves|need goggles|need gloves|need glasses|wear gloves|wear goggles|wear glasses|\
                  protective|max pressure|maximum pressure|pressure limit|highest pressure|too much pressure|\
                  how much pressure can i put|how much pressure may|how many psi can i put|grand if|be right|ok or no|\
                  ok or not|is that ok|is it ok|is this ok|do any harm|do i lose|will i lose|any harm|any danger|\
                  hurt me|fire risk|blow us|blow me|without damaging|without killing|without burning|without setting|\
                  before it is safe|cool before|cool down before|long before i can touch|do i have to wear|\
                  should i wear|must not|never do|do and don't|was that bad|was that wrong|is that bad|did i do wrong|\
                  cool enough|how hot|first aid|in my eye|in my eyes|in the eyes|ground the|earth the|dispose|\
                  can i smoke|smoking near|is it wise|wise to|advisable|what should i watch|what to watch|watch out|\
                  beware|mind when|do i need goggles|will i get|will i burn|could i be poisoned|poisoned|suffocate|\
                  scalded|is it bad|ok if|can i damage|what must i watch|allowed|must cool|is it permitted|\
                  is it forbidden|forbidden|am i allowed to|hurt anything|harm anything|damage anything|does it hurt|\
                  does that hurt|does it harm|does that harm|shop air|compressed air",
    },
    Turns {
        kind: EntryKind::Caution,
        strength: 0.5,
        phrases: "can i|could i|can we|can you|can one|should i|do i need to|do i have to|do you have to|\
                  do you need to|must i|is it bad to|what if i|what happens if|long do i wait|long should i wait|\
                  limit|max|how many psi is|what pressure is|ok|okay|alright|grand|maximum|at most|how much can|\
                  is there a problem with|need to be|may|burst|damage|will the|will it|could the|can the|can it",
    },
    Turns {
        kind: EntryKind::Gauge,
        strength: 1.0,
        phrases: "convert|converting|conversion|calculate|calculator|calculation|work out|formula|how big a hole|\
                  how large a hole|what size hole|what size of hole|how big is the hole|size of leak|leak size|\
                  hole size|size of the hole|size of hole|how big a leak|to kpa|in kpa|into kpa|to psi|into psi|\
                  to mbar|in mbar|to inches of water|in inches of water|equivalent to|equals how many|in mm|to mm|\
                  into mm|in millimeters|to millimeters|in hectopascal|in hpa|to hpa|in mmhg|to mmhg|in inhg|to inhg|\
                  in pascals",
    },
    Turns {
        kind: EntryKind::Test,
        strength: 1.0,
        phrases: "how do i check|how do i test|how do you test|how do you check|how to test|how to check|\
                  how to measure|how can i test|how can i check|how do i measure|check|checking|test|testing|tested|\
                  measure|measuring|measurement|what should * read|should it read|should i read|should read|\
                  supposed to read|should measure|should i see|should i get|what reading|what readings|how many ohms|\
                  how many volts|how many amps|what resistance|ohm reading|what ohms|ohm value|ohms value|\
                  resistance spec|spec|specs|specification|expected value|normal value|normal reading|good reading|\
                  procedure|verify|confirm|inspect|inspecting|diagnose|diagnosing|diagnosis|find out whether|\
                  find out if|tell if|tell whether|how to tell|see if|see whether|way to know|how do i know|\
                  how do you know|how will i know|prove|make sure|rule out|ruling out|look for|pinpoint|locate|\
                  track down|trace|with a multimeter|using a multimeter|with a scan tool|with scan tool|\
                  with a scanner|with a meter|bench test|command|actuate|activate|energize|bidirectional|trigger|\
                  how many inches|how much vacuum|how much current|what voltage|what current|how much should|\
                  how many grams|how full|compare|watch|in ohms|what should happen|in what order|which order|\
                  in which order|blow through|what is correct|which direction|which way should|should i be able|\
                  should i feel|should i hear|should it pass|can i tell|can you tell|can one tell|could i tell|\
                  tolerance|how much resistance|which reading|should show|worth trying|worth a try|wiggle|wriggle|\
                  wiggling|good or bad|have a look at the inside",
    },
    Turns {
        kind: EntryKind::Test,
        strength: 0.7,
        phrases: "how 2|how do i|how do you|how to|how can i|how can you|how should i|how would i|how would you|\
                  how does one|best way to|way to|ways to|easiest way|quickest way|steps to|steps for|\
                  what is the right way|where do i look|method|how low|how high|how fast|how long should|\
                  what is normal|within spec|in spec|good value|what should|should it be|should it|how do i go on",
    },
    Turns {
        kind: EntryKind::Repair,
        strength: 1.0,
        phrases: "replace|replacing|replacement|change the|change out|changing the|fit a new|fitting a new|fit new|\
                  fitting new|install|installing|installation|renew|renewing|swap out|swapping out|swap in a new|\
                  put a new|put in a new|put on a new|putting a new|put new|get a new|new one fitted|cost to|\
                  labor time|labour time|book time|how long to fit|how long to change|r and r|reflash|reprogram|\
                  update the software|flash the|software update|need a new|buying a new|buy a new|remove and refit|\
                  clean out|clean the|cleaning the|decoke|descale|cleaning|de carbon|exchange|exchanging|r&r|r r|\
                  remove and replace|put on a|stick in a new|fit another|fit a fresh|another new|buy another|fit a|\
                  renewed|reflashing|flash a|nip up|retighten|tighten|screw in a|flush|scrub|scrape|wash|splice|\
                  unblock|decarbonise|forced regen|regen|clean it|replace it|renewal|washed out|be washed|swapping|\
                  swap the|change my|change it|change them|changed myself|to change|do it myself|diy|big job|teach|\
                  needs doing|need doing|weld up|relearn|re learn|recalibrate|take it out and clean|scraping|\
                  how hard is it to|is it hard to",
    },
    Turns {
        kind: EntryKind::Repair,
        strength: 0.5,
        phrases: "fix|fixing|mend|repair|repairing|cure|clean|how much to|how much does it cost|new|swap|job to|fit|\
                  another|solder",
    },
    Turns {
        kind: EntryKind::Suspect,
        strength: 0.9,
        phrases: "why|what causes|what would cause|what could cause|what can cause|what might cause|cause|causes|\
                  caused by|causing|reason|reasons|what makes|what would make|what could make|due to|could it be|\
                  what else|culprit|to blame|how come|what fails|what goes wrong|root cause|possible reasons|\
                  what lets|what keeps|what stops|why is|why can|why does|what is behind",
    },
    Turns {
        kind: EntryKind::Suspect,
        strength: 0.5,
        phrases: "faulty|failed|defective|bad|broken|stuck|jammed|seized|worn|leaking|blocked|clogged|cracked|torn|\
                  split|perished|dead|shorted|not close|not shut|not open|fault|burnt|ruptured|perforated|fractured|\
                  flooded|soaked|rotted|rotten|pinched|disconnected|unplugged|off its seat|forgot to|melted|choked|\
                  coked|no flow|not seal|left the * off|left off",
    },
    Turns {
        kind: EntryKind::Code,
        strength: 0.9,
        phrases: "code for|code|codes|dtc|dtcs|what does * mean|what does the code|fault number|error number|\
                  trouble code",
    },
    Turns {
        kind: EntryKind::Part,
        strength: 0.9,
        phrases: "where is|where are|where does * sit|where can i find the|what is a|what is an|what does a * do|\
                  what does the * do|location of|purpose of|function of|located",
    },
    Turns {
        kind: EntryKind::Symptom,
        strength: 0.6,
        phrases: "my|i|we|me|customer complains|customer says|customer states|complaint|complains of|complaining of|\
                  it keeps|keeps|every time|whenever|all of a sudden|suddenly|noticed|smells|smelling",
    },
    Turns {
        kind: EntryKind::Circumstance,
        strength: 0.9,
        phrases: "only when|only in|only if|only on|only at|only after|only since|only while|only over|\
                  only over bumps|ever since|it started after|started after|started when|started right after|\
                  began after|began right after|since they|since he|since the garage|since the|since i|since my|\
                  since we|since a|for the first * minutes|first thing|just for the first|only plays up|only happens|\
                  never when|my car has|mine has|it has a|it has two|car is a|it runs on|we live|i live|live in|\
                  live near|live on|lives near|parked near|parked up|sleeps|kept outside|went through|drove through|\
                  drove into|ran into|always|habit|habitual|habitually|weeks ago|months ago|wks ago|days ago|\
                  last week|last month|last year|week ago|month ago|yesterday|recently|lately|since then|equipped|\
                  engine w|mos|previously|the week before|acts up|act up|only drives|each way",
    },
    Turns {
        kind: EntryKind::Circumstance,
        strength: 0.6,
        phrases: "has been sitting|been sitting|sat in|sat unused|laid up|sat outside|sat for|been standing|stood for|\
                  parked for|in storage|always fills|always tops|used on|drives on|lives|recently had|just had|\
                  has had|was replaced|was changed|habit|vehicle has|car has|equipped with|fitted with|without a cap|\
                  type of",
    },
];
