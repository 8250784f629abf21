//! What people see: text for a terminal of a given width, and the JSON shapes for scripts. Screens turn answers into
//! text; they compute nothing and print nothing.

pub mod car;
pub mod car_json;
pub mod car_taken;
pub mod car_words;
pub mod failure;
pub mod first;
pub mod gauge;
pub mod guide;
pub mod job;
pub mod job_json;
pub mod job_list;
pub mod job_words;
pub mod json;
pub mod kb_list;
pub mod kb_show;
pub mod limit;
pub mod next;
pub mod paint;
pub mod past;
pub mod plan;
pub mod plan_forms;
pub mod problems;
pub mod proof;
pub mod quote;
pub mod rank;
pub mod reliability;
pub mod schemas;
pub mod score;
pub mod search;
pub mod search_past;
pub mod sheet;
pub mod shop;
pub mod text;
pub mod tune;
pub mod workshop;
pub mod worth;

/// What a screen must know of the place where it is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Columns.
    pub width: usize,
}

impl Look {
    /// Narrowest width that screens are laid out for.
    pub const NARROWEST: usize = 30;
    /// Text is not set wider than this, however wide the terminal: long lines are hard to read.
    pub const WIDEST: usize = 140;

    /// A look for a terminal of that many columns.
    #[must_use]
    pub fn new(columns: usize) -> Self {
        Self { width: columns.clamp(Self::NARROWEST, Self::WIDEST) }
    }
}
