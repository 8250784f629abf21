//! `gauge` as typed. Quantities stay text here; the command reads them.

use clap::{Args, Subcommand, ValueEnum};

/// `gauge`.
#[derive(Debug, Args)]
#[command(subcommand_required = true, arg_required_else_help = true)]
pub struct GaugeArgs {
    /// The question.
    #[command(subcommand)]
    pub question: GaugeQuestion,
}

/// What the air outside is like.
#[derive(Clone, Debug, Default, Args)]
pub struct AirArgs {
    /// Height of the place above the sea, such as "5000 ft"
    #[arg(long, value_name = "HEIGHT", conflicts_with = "barometer", allow_hyphen_values = true)]
    pub altitude: Option<String>,
    /// Air pressure at the place itself, not reduced to sea level, such as "84 kPa"
    #[arg(long, value_name = "PRESSURE")]
    pub barometer: Option<String>,
    /// Temperature of the air, such as "20 C"
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub air: Option<String>,
}

/// What the gauge is connected to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum On {
    /// The closed vapour system with its tank.
    #[default]
    System,
    /// A filler cap alone, in its adapter.
    Cap,
    /// A valve alone, off the system.
    Valve,
}

/// Everything around a hold except its needle.
#[derive(Clone, Debug, Default, Args)]
pub struct HoldArgs {
    /// The numbers lie below the air outside
    #[arg(long, conflicts_with = "pressure")]
    pub vacuum: bool,
    /// The numbers lie above the air outside
    #[arg(long)]
    pub pressure: bool,
    /// What the gauge is connected to
    #[arg(long, value_enum, default_value = "system")]
    pub on: On,
    /// Size of the tank, such as "60 L"; needs --fuel too
    #[arg(long, value_name = "VOLUME")]
    pub tank: Option<String>,
    /// How full the tank is, such as "40 %"
    #[arg(long, value_name = "SHARE", requires = "tank")]
    pub fuel: Option<String>,
    /// The volume under test itself, such as "45 L"
    #[arg(long, value_name = "VOLUME", conflicts_with = "fuel")]
    pub volume: Option<String>,
    /// How much warmer the gas was at the end, such as "1 K"; negative when colder
    #[arg(long, value_name = "CHANGE", allow_hyphen_values = true)]
    pub warmer: Option<String>,
    /// What the gauge can tell apart, such as "0.2 inH2O"; without it the last place written
    #[arg(long, value_name = "STEP")]
    pub resolution: Option<String>,
    /// The air outside.
    #[command(flatten)]
    pub around: AirArgs,
}

/// What a pressure counts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CountedFrom {
    /// Above the air outside.
    Gauge,
    /// Below the air outside.
    Vacuum,
    /// Above nothing at all.
    Absolute,
}

/// The questions.
#[derive(Debug, Subcommand)]
pub enum GaugeQuestion {
    /// How large is the hole behind a decay, or behind a flow at a pressure?
    #[command(after_help = "Example: faultodds gauge hole --decay \"14 -> 8 inH2O in 2 min\" --pressure --tank 60L \
        --fuel 40%\n         faultodds gauge hole --flow \"0.6 L/min\" --at \"14 inH2O\" --pressure")]
    Hole {
        /// The decay: "20 -> 19.3 inHg in 4 min", "held 14 inH2O for 2 min", "14, 12.1, 10.3 inH2O every 30 s"
        #[arg(long, value_name = "READING", required_unless_present = "flow", conflicts_with = "flow")]
        decay: Option<String>,
        /// The flow: "0.6 L/min", "> 5 L/min"
        #[arg(long, value_name = "READING", requires = "at")]
        flow: Option<String>,
        /// The pressure at which it flows
        #[arg(long, value_name = "PRESSURE", allow_hyphen_values = true)]
        at: Option<String>,
        /// Around it.
        #[command(flatten)]
        hold: HoldArgs,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// How long does a system with a given hole hold, or how much does it lose in a time?
    #[command(
        after_help = "Example: faultodds gauge hold --hole \"0.020 in\" --from \"14 inH2O\" --to \"8 inH2O\" --pressure\n         \
        faultodds gauge hold --hole \"0.040 in\" --from \"14 inH2O\" --during \"2 min\" --pressure --volume \"50 L\""
    )]
    Hold {
        /// The hole, such as "0.020 in" or "0.5 mm"
        #[arg(long, value_name = "LENGTH")]
        hole: String,
        /// Where the hold starts
        #[arg(long, value_name = "PRESSURE", allow_hyphen_values = true)]
        from: String,
        /// Where it ends: asks for the time
        #[arg(
            long,
            value_name = "PRESSURE",
            allow_hyphen_values = true,
            required_unless_present = "during",
            conflicts_with = "during"
        )]
        to: Option<String>,
        /// How long it lasts: asks for the drop
        #[arg(long, value_name = "TIME")]
        during: Option<String>,
        /// Around it.
        #[command(flatten)]
        hold: HoldArgs,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Which vacuum does a sound engine show at idle here?
    #[command(after_help = "Example: faultodds gauge vacuum --altitude \"5000 ft\" --reading \"15 inHg\"")]
    Vacuum {
        /// What the gauge shows
        #[arg(long, value_name = "READING")]
        reading: Option<String>,
        /// The air outside.
        #[command(flatten)]
        around: AirArgs,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Which resistance does a copper coil have at another temperature?
    #[command(after_help = "Example: faultodds gauge coil \"34 ohm\" --at \"100 C\"")]
    Coil {
        /// The resistance measured
        resistance: String,
        /// Temperature of the coil when it was measured
        #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
        at: String,
        /// Temperature asked about
        #[arg(long, value_name = "TEMPERATURE", default_value = "20 C", allow_hyphen_values = true)]
        to: String,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// What does resistance in the circuit take from a lamp or a coil?
    #[command(after_help = "Example: faultodds gauge lamp --supply \"12.6 V\" --series \"1 ohm\"\n         \
        faultodds gauge lamp --coil \"26 ohm\" --supply \"12.6 V\" --lost \"0.5 V\"")]
    Lamp {
        /// Battery voltage under load
        #[arg(long, value_name = "VOLTAGE")]
        supply: String,
        /// Resistance of wire, plug and corrosion: asks for the voltage lost
        #[arg(long, value_name = "RESISTANCE", required_unless_present = "lost", conflicts_with = "lost")]
        series: Option<String>,
        /// Voltage lost on the way: asks for the resistance behind it
        #[arg(long, value_name = "VOLTAGE")]
        lost: Option<String>,
        /// Power of the lamp; without it a 21 W signal lamp at its most, 26.5 W at 13.5 V
        #[arg(long, value_name = "POWER", requires = "rated", conflicts_with = "coil")]
        power: Option<String>,
        /// Voltage at which the lamp has that power
        #[arg(long, value_name = "VOLTAGE", requires = "power")]
        rated: Option<String>,
        /// A coil of this resistance instead of a lamp
        #[arg(long, value_name = "RESISTANCE")]
        coil: Option<String>,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Which voltage does a tank pressure sensor show at a pressure, and the other way round?
    #[command(after_help = "Example: faultodds gauge sensor --point \"0 inH2O=2.6V\" --point \"8 inH2O vac=1.4V\" \
        --pressure \"4 inH2O vac\"")]
    Sensor {
        /// A calibration point, PRESSURE=VOLTAGE, from the maker's information; give two
        #[arg(long, value_name = "PRESSURE=VOLTAGE", required = true, allow_hyphen_values = true)]
        point: Vec<String>,
        /// The pressure asked about, such as "4 inH2O vac"
        #[arg(
            long,
            value_name = "PRESSURE",
            allow_hyphen_values = true,
            required_unless_present = "voltage",
            conflicts_with = "voltage"
        )]
        pressure: Option<String>,
        /// The voltage asked about
        #[arg(long, value_name = "VOLTAGE")]
        voltage: Option<String>,
        /// The air outside.
        #[command(flatten)]
        around: AirArgs,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
    /// Turn a quantity into another unit, a pressure also into another zero
    #[command(after_help = "Example: faultodds gauge convert \"20 inHg vac\" --to kPa --counted absolute")]
    Convert {
        /// The quantity with its unit
        #[arg(allow_hyphen_values = true)]
        quantity: String,
        /// The unit wanted
        #[arg(long, value_name = "UNIT")]
        to: String,
        /// What a pressure is to count from
        #[arg(long, value_enum)]
        counted: Option<CountedFrom>,
        /// The air outside.
        #[command(flatten)]
        around: AirArgs,
        /// Answer in JSON
        #[arg(long)]
        json: bool,
    },
}
