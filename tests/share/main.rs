//! The gauge on the phone, held against phones and strangers of every kind: the real program, over
//! real sockets of this computer alone.

mod control;
mod crowd;
mod hostile;
mod house;
mod offered;
mod tool;
