//! `shop`: shows what counts as true of the shop, starts its file, checks it.

use super::planned::told;
use super::{Ending, Io, Loaded, Stop};
use cli::plan::{ShopCommand, ShopFileArgs};
use screens::failure::Failure;
use screens::shop as screen;
use shop::{EXAMPLE, load, usual};
use std::fs;
use std::path::{Path, PathBuf};

pub(super) fn run(args: &ShopFileArgs, kb: Option<&Path>, io: &mut Io) -> Result<Ending, Stop> {
    let given = args.shop.clone();
    match args.command {
        ShopCommand::Show => {
            let loaded = Loaded::new(kb, io)?;
            let file = given.clone().or_else(|| usual().filter(|p| p.is_file()));
            let shop = load(given.as_deref(), loaded.base).map_err(told)?;
            io.show(&screen::show(&shop, file.as_deref(), loaded.base, io.look))?;
            Ok(Ending::Done)
        }
        ShopCommand::Start => {
            let path = given.map_or_else(usual_or_told, Ok)?;
            if path.exists() {
                let failure = Failure::new(format!("{} is there already and is left as it is", path.display()));
                return Err(failure.hint("see what it says with: faultodds shop show").into());
            }
            let failed = |e: std::io::Error| Failure::new(format!("{}: {e}", path.display()));
            if let Some(folder) = path.parent() {
                fs::create_dir_all(folder).map_err(failed)?;
            }
            // Made anew and never over a file that came into being meanwhile.
            let mut file = fs::File::create_new(&path).map_err(failed)?;
            std::io::Write::write_all(&mut file, EXAMPLE.as_bytes()).map_err(failed)?;
            io.show(&screen::started(&path, io.look))?;
            Ok(Ending::Done)
        }
        ShopCommand::Check => {
            let loaded = Loaded::new(kb, io)?;
            let path = given.map_or_else(usual_or_told, Ok)?;
            if !path.is_file() {
                let failure = Failure::new(format!("there is no shop file at {}", path.display()));
                return Err(failure.hint("begin one with: faultodds shop start").into());
            }
            load(Some(&path), loaded.base).map_err(told)?;
            io.show(&screen::sound(&path, io.look))?;
            Ok(Ending::Done)
        }
    }
}

fn usual_or_told() -> Result<PathBuf, Stop> {
    let failure = || Failure::new("this system names no folder for settings").hint("say where with --shop FILE");
    usual().ok_or_else(|| failure().into())
}
