//! The book: a page for each who works with the program. `tests/book.rs` runs every command in it.

/// Name, whom it is for, and the page as Markdown.
pub type Page = (&'static str, &'static str, &'static str);

/// The pages, in the order in which a newcomer would read them.
pub const PAGES: [Page; 3] = [
    ("technician", "whoever repairs the car: from the first question to the proof", include_str!("book/technician.md")),
    ("owner", "whoever runs the shop: quotes, tools, and what the past is worth", include_str!("book/owner.md")),
    (
        "knowledge-writer",
        "whoever writes knowledge: numbers, cautions, checks and cases",
        include_str!("book/knowledge-writer.md"),
    ),
];
