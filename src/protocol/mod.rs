//! The protocol file: how a sensor is recognised, how its packets decode to samples, and how
//! commands to it are encoded. Pure.
