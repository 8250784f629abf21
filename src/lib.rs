//! faultodds: from emission-control fault codes to the likely fault, the next test and the proof of repair, offline.
//!
//! Layers, each of which may use only those before it: [`knowledge`] (YAML in, checked types out), [`network`] and
//! [`inference`] (pure: no file, no clock, no terminal), [`gauge`] (what a number on a gauge means) and [`car`] (what a
//! car says of itself), as pure,
//! [`evidence`] (from what a person says to observations),
//! and what stands on them. `tests/layers.rs` holds the order.
#![deny(clippy::print_stdout, clippy::print_stderr)]

pub mod car;
pub mod cases;
pub mod cli;
pub mod commands;
pub mod evidence;
pub mod gauge;
pub mod inference;
pub mod jobs;
pub mod knowledge;
pub mod learning;
pub mod network;
pub mod pages;
pub mod planning;
pub mod ranking;
pub mod screens;
pub mod search;
pub mod shipped;
pub mod shop;
