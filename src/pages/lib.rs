//! Pages to look at and hand over: a plan to carry, a report for the customer, a shop's year, and drawings. Each is one
//! file that asks nothing of anybody: no network, no font, no script from elsewhere. They compute nothing of the domain
//! beside what a page must go on with by itself, and print nothing.
//!
//! All HTML and all drawings are made with `maud`, which escapes every text that is not said to be markup. What goes in
//! unescaped is named `PreEscaped` and is the project's own: style, script, and data in [`shell`].

pub mod bars;
pub mod draw;
pub mod metrics;
pub mod plan;
pub mod poster;
pub mod report;
pub mod shell;
pub mod shop;
mod widths;
