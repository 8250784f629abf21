//! What do a shop's own closed jobs say about the numbers of the base, and did learning from them help?
//!
//! The mathematics (`proportion`, `shares`, `selection`, `pooling`, `em`, `spread`, `scores`, `fit`) is pure. `counts` holds what is
//! counted, `past` brings spreadsheets in, `overlay` writes and applies what was learned. Nothing here edits a base
//! on disk, and nothing prints.

pub mod em;
pub mod pooling;
pub mod proportion;
pub mod scores;
pub mod selection;
pub mod shares;
pub mod spread;

#[cfg(test)]
mod published;
