//! The guided run: a pure state machine fed with samples and key presses, giving prompts and
//! events. And the cautions that stand before it.

pub mod cautions;
