//! What a gauge reading means: units, parsing, leak physics, electrics, likelihoods. Prints nothing, reads no file, knows no clock.
//!
//! | question | file |
//! | --- | --- |
//! | what can be measured, within which bounds? | `kind` |
//! | which units are there, and by which factor? | `unit_table`, `units` |
//! | what is a quantity, gauge or absolute? | `quantity` |
//! | how is a written quantity read? | `parse`, `number_text` |
//! | what is a reading (number, series, hold)? how is it written? | `reading`, `reading_text`, `series_text` |
//! | what flows through a hole? | `orifice` |
//! | how does a sealed volume decay? | `decay` |
//! | which shape do three or more points have? | `fit` |
//! | could temperature have done it? | `warming` |
//! | how large is the vapour space? | `space` |
//! | what does the air outside weigh? | `atmosphere` |
//! | what does the electric side say? | `electric` |
//! | which codes belong to a hole size? | `leak_class` |
//! | what must not be exceeded? | `limits` |
//! | what surrounds a hold? | `setting` |
//! | how many digits are written? | `digits` |
//! | what does a user get told? | `answer`, `answer_leak`, `answer_hold`, `answer_flow`, `answer_engine`, `answer_electric` |
//! | how probable is a number under a distribution? | `likelihood`, `smoothed` |
//! | how does a reading become a number of a test? | `evidence` |

pub mod answer;
pub mod answer_electric;
pub mod answer_engine;
pub mod answer_flow;
pub mod answer_hold;
pub mod answer_leak;
pub mod atmosphere;
pub mod decay;
pub mod digits;
pub mod electric;
pub mod error;
pub mod evidence;
pub mod fit;
pub mod kind;
pub mod leak_class;
pub mod likelihood;
pub mod limits;
pub(crate) mod number_text;
pub mod orifice;
pub mod parse;
pub mod quantity;
pub mod rate;
pub mod reading;
pub mod reading_text;
pub(crate) mod series_text;
pub mod setting;
pub mod smoothed;
pub mod space;
pub(crate) mod unit_table;
pub mod units;
pub mod warming;

pub use answer::{Answer, Figure};
pub use error::GaugeError;
pub use likelihood::{Distribution, Observed, likelihoods};
pub use parse::parse_quantity;
pub use quantity::{Quantity, Reference, Side};
pub use reading::{Reading, Series};
pub use reading_text::parse_reading;
pub use units::{Kind, Unit};
