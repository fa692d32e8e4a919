//! Physical quantities as newtypes over SI `f64`: [`Pressure`], [`Temperature`], [`Time`], [`Rate`].
//!
//! A number leaves this room only through a method that names its unit. Pressures are gauge
//! unless the name of the variable or field says `absolute`.

mod median;
mod pressure;
mod quantity;

pub use median::median;
pub use pressure::{ParsePressureError, Pressure, PressureUnit};
pub use quantity::{Rate, Temperature, Time};
