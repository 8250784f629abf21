//! What the questions are called that `gauge` answers, in the words of people who ask them. Answers none.

/// One question of `gauge`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Question {
    /// The subcommand.
    pub id: &'static str,
    /// The question.
    pub name: &'static str,
    /// Other ways to ask it.
    pub also: &'static [&'static str],
    /// What it tells.
    pub told: &'static str,
}

/// All of them.
pub(super) const QUESTIONS: &[Question] = &[
    Question {
        id: "hole",
        name: "how large is the hole behind a pressure loss or a flow",
        also: &[
            "work out the leak size from how fast the pressure drops",
            "hole diameter from a decay test",
            "what size of leak loses so much pressure in so many minutes",
            "leak size calculator",
            "how big a hole is that, in millimetres or thou",
            "pressure fell from one value to another in two minutes, how big is the leak",
            "convert a flow in cc per minute into a hole diameter",
        ],
        told: "Turns a decay of pressure over a time, or a flow at a pressure, into the diameter of the opening.",
    },
    Question {
        id: "hold",
        name: "how long does a system with a given hole hold its pressure",
        also: &[
            "how fast should the pressure drop with a hole of half a millimetre",
            "how quickly does a 0.020 or 0.040 inch hole bleed down",
            "expected pressure loss for a known leak size",
            "how many minutes until a tank with a one millimetre leak is empty of pressure",
            "how long should the tank hold vacuum with a pinhole",
            "expected decay time for a leak of a given diameter",
        ],
        told: "Predicts the time to lose a pressure, or the pressure lost in a time, for a hole of a known size.",
    },
    Question {
        id: "vacuum",
        name: "which vacuum does a sound engine show at idle at this altitude",
        also: &[
            "manifold vacuum at high altitude",
            "how much less vacuum in the mountains",
            "correct the vacuum reading for elevation above sea level",
            "expected idle vacuum at 5000 feet or 2000 metres",
            "normal inches of mercury at altitude",
            "vacuum gauge reads low because the town is high up",
        ],
        told: "The idle vacuum to expect at a height above the sea or an air pressure.",
    },
    Question {
        id: "coil",
        name: "which resistance does a copper coil have at another temperature",
        also: &[
            "coil resistance hot against cold",
            "how many ohms should a warm solenoid read",
            "correct a resistance for temperature",
            "winding measured hot, what is it at room temperature",
            "ohms go up when the coil gets hot, by how much",
            "temperature compensation of a winding",
        ],
        told: "Brings the resistance of a copper winding from one temperature to another.",
    },
    Question {
        id: "lamp",
        name: "what does resistance in the circuit take from a lamp or a coil",
        also: &[
            "how dim does the test lamp get with a bad joint",
            "voltage drop across a corroded connector under load",
            "bulb glows weakly because of resistance in the wire",
            "how much voltage is lost in a bad connection",
            "brightness of a 21 watt lamp with one ohm in series",
        ],
        told: "Voltage, current and brightness that are left when a joint or wire has resistance.",
    },
    Question {
        id: "sensor",
        name: "which voltage does a tank pressure sensor show at a pressure",
        also: &[
            "volts of the tank pressure sensor for so many inches of water",
            "turn sensor voltage into pressure",
            "pressure sensor volts to kilopascal",
            "what should the ftp sensor signal be at minus ten inches",
            "transfer curve of the tank pressure sensor",
            "sensor shows 2.6 volts, what pressure is that",
        ],
        told: "From the pressure in the tank to the signal voltage of its sensor and back.",
    },
    Question {
        id: "convert",
        name: "turn a quantity into another unit",
        also: &[
            "convert inches of water to kilopascal",
            "psi to mbar conversion",
            "how many pascal is an inch of water",
            "what is 14 inches of water in psi",
            "convert hpa mbar bar kpa inhg mmhg",
            "unit conversion of pressure, flow or length",
            "gauge pressure to absolute pressure",
            "millimetres to thou",
        ],
        told: "Pressures, flows, lengths, volumes, temperatures and electrical units.",
    },
];
