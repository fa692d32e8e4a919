//! A cylinder being cranked with a tester in its plug hole, the tester, the sensor, and their
//! faults. Deterministic from a seed.
