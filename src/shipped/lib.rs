//! The base that the program carries, packed at build time; see `build.rs`.

mod speaks;

pub use speaks::{Speaks, speaks_of};

use knowledge::Base;
use knowledge::files::{InMemory, KbFile};

static BASE: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/base.bin"));
static HALF: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/half.bin"));
static INDEX: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/index.bin"));
static SPEAKS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/speaks.bin"));
static TEXTS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/texts.bin"));

/// The shipped base is damaged: the program file itself is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the base inside the program cannot be read; the program file is damaged, install it again")]
pub struct Damaged;

/// The shipped base, checked when the program was built.
///
/// # Errors
/// [`Damaged`] when the packed bytes do not unpack.
pub fn base() -> Result<Base, Damaged> {
    let (rest, half) = rayon::join(|| postcard::from_bytes::<Base>(BASE), || postcard::from_bytes::<Base>(HALF));
    let (rest, half) = (rest.map_err(|_| Damaged)?, half.map_err(|_| Damaged)?);
    Ok(Base { tests: half.tests, codes: half.codes, ..rest })
}

/// The search index of the shipped base.
#[must_use]
pub fn index() -> &'static [u8] {
    INDEX
}

/// What each symptom of the shipped base speaks for on a car of which nothing else is known.
///
/// # Errors
/// [`Damaged`] when the packed bytes do not unpack.
pub fn speaks() -> Result<Speaks, Damaged> {
    postcard::from_bytes(SPEAKS).map_err(|_| Damaged)
}

/// The texts of the shipped entries.
///
/// # Errors
/// [`Damaged`] when the packed bytes do not unpack.
pub fn files() -> Result<InMemory, Damaged> {
    let texts: Vec<(String, String)> = postcard::from_bytes(TEXTS).map_err(|_| Damaged)?;
    Ok(InMemory(texts.into_iter().map(|(path, text)| KbFile { path, text }).collect()))
}
