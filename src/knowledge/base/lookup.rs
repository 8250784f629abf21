//! Finding an entry of the base by its id.

use super::{
    Base, Caution, Code, Covers, Equipment, EquipmentOption, Factor, FactorInput, Monitor, NOT_LISTED_PREFIX, Part,
    Reading, Repair, Setup, Source, Suspect, Symptom, Test, Tool,
};

macro_rules! by_id {
    ($($list:ident $fn:ident $type:ty;)*) => { $(
        #[doc = concat!("The entry of `", stringify!($list), "` with this id.")]
        #[must_use]
        pub fn $fn(&self, id: &str) -> Option<&$type> {
            self.$list.binary_search_by(|x| x.id.as_str().cmp(id)).ok().map(|i| &self.$list[i])
        }
    )* };
}

impl Base {
    by_id! {
        codes code Code;
        monitors monitor Monitor;
        parts part Part;
        tests test Test;
        symptoms symptom Symptom;
        setups setup Setup;
        tools tool Tool;
        cautions caution Caution;
        sources source Source;
        equipment equipment_choice Equipment;
        factors factor Factor;
    }

    /// All suspects with their parts, in the order of the parts.
    pub fn suspects(&self) -> impl Iterator<Item = (&Part, &Suspect)> {
        self.parts.iter().flat_map(|p| p.suspects.iter().map(move |s| (p, s)))
    }

    /// The suspect `part/mode` and its part.
    #[must_use]
    pub fn suspect(&self, id: &str) -> Option<(&Part, &Suspect)> {
        let (part, _) = id.split_once('/')?;
        let part = self.part(part)?;
        part.suspects.iter().find(|s| s.id == id).map(|s| (part, s))
    }

    /// All repairs with their parts.
    pub fn repairs(&self) -> impl Iterator<Item = (&Part, &Repair)> {
        self.parts.iter().flat_map(|p| p.repairs.iter().map(move |r| (p, r)))
    }

    /// The repair `part/repair` and its part.
    #[must_use]
    pub fn repair(&self, id: &str) -> Option<(&Part, &Repair)> {
        let (part, _) = id.split_once('/')?;
        let part = self.part(part)?;
        part.repairs.iter().find(|r| r.id == id).map(|r| (part, r))
    }

    /// The reading `test:reading` and its test.
    #[must_use]
    pub fn reading(&self, id: &str) -> Option<(&Test, &Reading)> {
        let (test, _) = id.split_once(':')?;
        let test = self.test(test)?;
        test.readings.iter().find(|r| r.id == id).map(|r| (test, r))
    }

    /// The equipment option with this id and the choice it belongs to.
    #[must_use]
    pub fn equipment_option(&self, id: &str) -> Option<(&Equipment, &EquipmentOption)> {
        self.equipment.iter().find_map(|e| e.options.iter().find(|o| o.id == id).map(|o| (e, o)))
    }

    /// All words of the factors with that input: the climates, the circumstances.
    #[must_use]
    pub fn factor_words(&self, input: FactorInput) -> Vec<&str> {
        let mut words: Vec<&str> = self
            .factors
            .iter()
            .filter(|f| f.input == input)
            .flat_map(|f| &f.bands)
            .filter_map(|b| match &b.covers {
                Covers::Word(w) => Some(w.as_str()),
                Covers::Range(..) => None,
            })
            .collect();
        words.sort_unstable();
        words.dedup();
        words
    }

    /// Name of a suspect, the "cause not listed" ones included; the id itself when the base does not know it.
    #[must_use]
    pub fn suspect_name(&self, id: &str) -> String {
        if let Some(monitor) = id.strip_prefix(NOT_LISTED_PREFIX) {
            let name = self.monitor(monitor).map_or(monitor, |m| m.name.as_str());
            return format!("cause not listed here ({name})");
        }
        self.suspect(id).map_or_else(|| id.to_owned(), |(_, s)| s.name.clone())
    }
}
