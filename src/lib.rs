//! faultodds: from emission-control fault codes to the likely fault, the next test and the proof of repair, offline.
//!
//! Each folder of `src` is a crate, so that the compiler holds the arrows between them one way: [`knowledge`] (YAML in, checked
//! types out), [`network`] and [`inference`] (pure: no file, no clock, no terminal), [`gauge`] (what a number on a gauge means)
//! and [`car`] (what a car says of itself), as pure, [`evidence`] (from what a person says to observations), and what stands on
//! them. This crate only brings them under one name.

pub use {
    car, cli, commands, evidence, gauge, inference, jobs, knowledge, learning, network, pages, planning, ranking,
    screens, search, shipped, shop,
};
