//! What do a shop's own closed jobs say about the numbers of the base, and did learning from them help?
//!
//! The mathematics (`proportion`, `shares`, `selection`, `pooling`, `em`, `spread`, `strength`, `hierarchy`, `unseen`, `scores`,
//! `fit`) is pure. `counts` holds what is counted, `past` brings spreadsheets in, `overlay` writes and applies what was learned.
//! Nothing here edits a base on disk, and nothing prints.

mod amounts;
pub mod counts;
pub mod demo;
pub mod em;
pub mod fit;
mod forecast;
mod groups;
mod hierarchy;
pub mod job;
pub mod lumped;
pub mod model;
pub mod number;
mod open_jobs;
pub mod overlay;
pub mod own_words;
pub mod past;
mod plan_cost;
pub mod pooling;
pub mod proportion;
mod readings;
pub mod recorded;
pub mod replay;
pub mod scores;
pub mod selection;
pub mod shares;
pub mod spread;
pub mod strength;
mod tally;
pub mod trial;
mod unseen;
pub mod world;
pub mod year;

#[cfg(test)]
mod published;
