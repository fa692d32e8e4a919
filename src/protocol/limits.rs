//! Bounds on what a protocol file may ask for, so that no file, however hostile, costs more than
//! a moment and a few kilobytes.

/// Longest protocol file in bytes.
pub const FILE: usize = 64 * 1024;
/// Longest payload in bytes: the longest attribute value of Bluetooth (Core Specification,
/// Volume 3, Part F, section 3.2.9; the section from memory).
pub const PAYLOAD: usize = 512;
/// Most fields of a stream.
pub const FIELDS: usize = 64;
/// Longest line or frame in bytes: as long as the longest payload.
pub const MESSAGE: usize = 512;
/// Most bytes that a frame begins with.
pub const START: usize = 8;
/// Most points of a table.
pub const TABLE: usize = 64;
/// Most digits after the mark of a decimal number.
pub const DIGITS: u8 = 9;
/// Most questions a second: a question and its answer take two connection events, which are 7.5 ms
/// apart at the shortest (Bluetooth Core Specification, Volume 6, Part B, section 4.5.1).
pub const ASK_HZ: f64 = 66.0;
/// Longest name in characters.
pub const NAME: usize = 64;
/// Longest meaning of a status bit in characters.
pub const MEANING: usize = 128;
/// Longest `about` in characters.
pub const ABOUT: usize = 4096;
/// Most status bits.
pub const STATUS_BITS: usize = 32;
/// Most readings, and most details.
pub const CHARACTERISTICS: usize = 32;
/// Longest command in bytes: what fits a write at the smallest ATT MTU, 23 less 3.
pub const COMMAND: usize = 20;
/// Fastest sample rate in Hz.
pub const RATE_HZ: f64 = 100_000.0;
/// Longest tick in microseconds.
pub const TICK_US: f64 = 1e6;
/// Shortest time in which a tick may go once around, in seconds: well above any delay of a
/// notification under way.
pub const SHORTEST_WRAP_S: f64 = 4.0;
/// Smallest and largest factor of a field.
pub const SCALE: (f64, f64) = (1e-12, 1e12);
/// No pressure above this is taken for one, in pascal: ten times a diesel injector's.
pub const PRESSURE_PA: f64 = 1e9;
