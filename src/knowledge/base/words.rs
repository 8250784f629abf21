//! The closed lists of words that entries are written in, each an enum that knows its own words.

use serde::{Deserialize, Serialize};

/// An enum whose variants are words of the base. Where it is used, `serde::{Deserialize, Serialize}` are in scope.
#[macro_export]
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $( $(#[doc = $text:literal])+ $variant:ident = $word:literal, )* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name { $( $(#[doc = $text])+ $variant, )* }

        impl $name {
            /// The words as written in the base.
            pub const WORDS: &'static [&'static str] = &[$($word),*];

            /// The value that a word stands for.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)* _ => None }
            }

            /// What it stands for, in a sentence.
            #[must_use]
            pub fn stands_for(self) -> &'static str {
                match self { $(Self::$variant => concat!($($text),+).trim_ascii_start(),)* }
            }

            /// The word as written in the base.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }
        }
    };
}

words! {
    /// What sort of fault a code reports.
    CodeKind {
        /// Vapour gets out or air gets in.
        Leak = "leak",
        /// Too little, too much or unasked-for flow.
        Flow = "flow",
        /// The electrical side.
        Circuit = "circuit",
        /// A signal that does not fit the others.
        Plausibility = "plausibility",
        /// Something does not move.
        Stuck = "stuck",
        /// A unit found fault with itself.
        SelfCheck = "self-check",
    }
}
words! {
    /// Where a code's title comes from.
    TitleBasis {
        /// From memory of the standard.
        Memory = "memory",
        /// Compared with a public table (see tests/outside).
        Table = "table",
    }
}
words! {
    /// When a monitor runs.
    Runs {
        /// All the time.
        Continuously = "continuously",
        /// Once a trip, when its conditions are met.
        OnceATrip = "once-a-trip",
    }
}
words! {
    /// The bit of readiness under which a monitor reports whether it has run (SAE J1979, from memory).
    ReadyGroup {
        /// Catalyst.
        Catalyst = "catalyst",
        /// Heated catalyst.
        HeatedCatalyst = "heated-catalyst",
        /// Evaporative system.
        Evap = "evap",
        /// Secondary air.
        SecondaryAir = "secondary-air",
        /// EGR.
        Egr = "egr",
        /// Circuits and sensors, watched all the time.
        Components = "components",
    }
}
words! {
    /// How the car's own words answer a reading.
    CarRule {
        /// Values frozen with a code of the test's family lie in their windows, or one does not.
        FrozenWindow = "frozen-window",
        /// Values with the engine running lie in their windows, or one does not.
        RunningWindow = "running-window",
        /// The check has run, or is held back by a value outside its window.
        HeldBack = "held-back",
        /// Sum of short and long trim, the bank that lies lower.
        TrimLow = "trim-low",
        /// Sum of short and long trim, the bank that lies higher.
        TrimHigh = "trim-high",
        /// Barometer less manifold pressure at warm idle.
        IdleVacuum = "idle-vacuum",
        /// Command of the EGR valve against what it reports.
        EgrGap = "egr-gap",
    }
}
words! {
    /// What can hurt.
    Hazard {
        /// Fuel vapour that burns.
        Vapour = "vapour",
        /// Liquid fuel.
        LiquidFuel = "liquid-fuel",
        /// Pressure in the vapour system.
        Pressure = "pressure",
        /// Battery current.
        Electric = "electric",
        /// A raised vehicle.
        Raised = "raised",
        /// Hot parts.
        Hot = "hot",
        /// Moving fans and belts.
        Moving = "moving",
        /// A running engine: exhaust gas, movement.
        EngineRunning = "engine-running",
        /// High voltage of a hybrid.
        HighVoltage = "high-voltage",
        /// A spark from body, hose or bottle beside vapour.
        Static = "static",
        /// Something that reaches the eyes.
        Eyes = "eyes",
        /// The pressure that a sealed tank holds at rest.
        SealedPressure = "sealed-pressure",
        /// Hot coolant under pressure.
        Coolant = "coolant",
        /// Refrigerant.
        Refrigerant = "refrigerant",
        /// The blades of a fan that can start by itself.
        Fan = "fan",
        /// A plug that carries current while it is pulled.
        LivePlug = "live-plug",
        /// Welding, grinding, hot air and soldering.
        HotWork = "hot-work",
        /// A particulate filter being burnt clean.
        Regeneration = "regeneration",
        /// Coolant in a cylinder.
        HydraulicLock = "hydraulic-lock",
        /// A flap or valve that moves by itself.
        DrivenFlap = "driven-flap",
        /// Spray cleaner, carbon and soot.
        Cleaner = "cleaner",
        /// A drive on the road.
        Road = "road",
        /// Codes and freeze frame lost by clearing.
        LostEvidence = "lost-evidence",
        /// A new catalyst spoilt by what killed the old one.
        NewCatalyst = "new-catalyst",
        /// A tank filled beyond the first click.
        ToppingOff = "topping-off",
        /// A steel neck without its strap to ground.
        NeckStrap = "neck-strap",
        /// An emission part that must work afterwards.
        EmissionPart = "emission-part",
    }
}
words! {
    /// What sort of source a number has.
    SourceKind {
        /// A document that anyone can open.
        Published = "published",
        /// A general library of reference values.
        ReferenceLibrary = "reference-library",
        /// A rule of the trade without a document.
        CommonPractice = "common-practice",
        /// A document recalled and not opened.
        Memory = "memory",
    }
}
words! {
    /// Which property of the vehicle a factor reads.
    FactorInput {
        /// Age in years.
        Age = "age",
        /// Mileage in km.
        Mileage = "mileage",
        /// Climate.
        Climate = "climate",
        /// Something that happened to it.
        Circumstance = "circumstance",
    }
}
words! {
    /// What a number on a gauge is.
    Quantity {
        /// Pressure above atmosphere.
        Pressure = "pressure",
        /// Pressure below atmosphere, counted positive.
        Vacuum = "vacuum",
        /// Pressure lost over a time.
        PressureDrop = "pressure-drop",
        /// Vacuum lost over a time.
        VacuumDrop = "vacuum-drop",
        /// Volume flow.
        Flow = "flow",
        /// Resistance.
        Resistance = "resistance",
        /// Voltage.
        Voltage = "voltage",
        /// Voltage lost along a path.
        VoltageDrop = "voltage-drop",
        /// Current.
        Current = "current",
        /// A share of a hundred.
        Percent = "percent",
        /// Mass.
        Mass = "mass",
        /// Time.
        Time = "time",
        /// Temperature.
        Temperature = "temperature",
        /// Length.
        Length = "length",
        /// Volume.
        Volume = "volume",
    }
}
words! {
    /// What is done to a number before it is compared with its distributions.
    Adjust {
        /// A vacuum divided by the ratio of the air pressure to that at sea level.
        SeaLevel = "sea-level",
        /// The resistance of a copper winding brought to 20 °C.
        CopperAt20C = "copper-20c",
        /// The size counts, whichever side of zero it lies on.
        Unsigned = "unsigned",
    }
}
words! {
    /// When a victim that was renewed while its cause is still there falls again.
    When {
        /// At the next try: a fuse behind a short.
        AtOnce = "at-once",
        /// After the re-test: a catalyst behind an engine that burns oil.
        Later = "later",
    }
}
words! {
    /// Sections of the vapour system that openings sit in and tests isolate.
    Section {
        /// The filler cap itself: seal and valve.
        Cap = "cap",
        /// How the cap or flap sits on the neck.
        CapSeat = "cap-seat",
        /// Filler neck and its hoses.
        Neck = "neck",
        /// Pump module and valves on top of the tank.
        TankTop = "tank-top",
        /// The tank.
        Tank = "tank",
        /// Lines between tank and canister.
        TankLine = "tank-line",
        /// The canister.
        Canister = "canister",
        /// The vent valve's seat.
        Vent = "vent",
        /// The line between canister and purge valve.
        PurgeLine = "purge-line",
        /// The purge valve's seat.
        PurgeValve = "purge-valve",
        /// The service port.
        Port = "port",
    }
}
words! {
    /// How open to the eye a suspect is.
    Open {
        /// Seen by looking where it sits.
        InSight = "in-sight",
        /// Seen once it is uncovered, unplugged or in the hand.
        AfterAccess = "after-access",
        /// Shown only by taking the part apart or by measuring it.
        Inside = "inside",
    }
}
words! {
    /// Families of distributions for a measured number.
    DistributionShape {
        /// Normal(mean, sd).
        Normal = "normal",
        /// Lognormal(median, spread).
        LogNormal = "lognormal",
        /// Exponential(mean).
        Exponential = "exponential",
        /// Uniform(low, high).
        Uniform = "uniform",
    }
}
