//! The demo shop's customers: invented makes and models, and what each leans to.

use crate::world::World;
use jiff::civil::Date;
use knowledge::base::Vehicle;

/// A car and who built it.
#[derive(Clone, Debug)]
pub(super) struct Customer {
    /// Make.
    pub make: String,
    /// Model.
    pub model: String,
    /// Model year.
    pub year: i16,
    /// Age and mileage.
    pub vehicle: Vehicle,
    /// Beginnings of suspect ids and the factor on their prevalence.
    pub leanings: Vec<(&'static str, f64)>,
}

type Leaning = &'static [(&'static str, f64)];

/// Make, model, share of the customers, and weak spots of the design.
const MODELS: [(&str, &str, f64, Leaning); 9] = [
    ("Orlo", "Finch", 0.22, &[("filler-cap/", 1.8)]),
    ("Orlo", "Heron", 0.12, &[("vent-valve/", 3.0)]),
    ("Tamsin", "Brook", 0.16, &[("purge-valve/", 2.2)]),
    ("Tamsin", "Weir", 0.08, &[("canister/", 2.5), ("vent-path/", 2.0)]),
    ("Kestrow", "Dale", 0.14, &[]),
    ("Kestrow", "Ridge", 0.07, &[("filler-neck/", 4.0), ("fuel-tank/", 2.0)]),
    ("Vantor", "Six", 0.09, &[("purge-circuit/", 3.0), ("vent-circuit/", 3.0)]),
    ("Bellane", "Lark", 0.08, &[("tank-pressure-sensor/", 3.0)]),
    ("Bellane", "Oriel", 0.04, &[]),
];

/// Draws a customer of that day.
pub(super) fn draw(world: &mut World, day: Date) -> Customer {
    let mut left = world.unit();
    let found = MODELS.iter().find(|m| {
        left -= m.2;
        left < 0.0
    });
    let (make, model, _, leanings) = *found.unwrap_or(&MODELS[0]);
    // Three to eighteen years, most about nine; a workshop of this kind sees few new cars.
    let age = (3.0 + 15.0 * (world.unit() + world.unit() + world.unit()) / 3.0 - 1.5).round().clamp(1.0, 22.0);
    let km = (age * (9_000.0 + 9_000.0 * world.unit())).round();
    #[expect(clippy::cast_possible_truncation, reason = "an age in years")]
    let year = day.year() - age as i16;
    let vehicle = Vehicle { age: Some(age), mileage_km: Some(km), ..Vehicle::default() };
    Customer { make: make.to_owned(), model: model.to_owned(), year, vehicle, leanings: leanings.to_vec() }
}
