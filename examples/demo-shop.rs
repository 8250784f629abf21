//! Writes the demo shop's files into a folder: `cargo run --release --example demo-shop -- data-demo`.

use faultodds::{learning::demo, shipped};
use std::{error::Error, fs, path::Path};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name the folder to write to")?;
    fs::create_dir_all(&folder)?;
    let made = demo::demo(&shipped::base()?, demo::JOBS, demo::SEED).map_err(|t| format!("{t:?}"))?;
    for (name, content) in made.files {
        fs::write(Path::new(&folder).join(name), content)?;
    }
    Ok(())
}
