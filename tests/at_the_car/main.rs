//! At the car: conversations typed by someone with dirty hands, the right car, first screens, the sheet, an old store.

mod desk;
mod first_screens;
mod guide;
mod old_store;
mod right_car;
mod sheet;
mod shop;
mod walk;
