//! Tests of the assessment against published rules, worked examples and bad input.

mod against_the_card;
mod air;
mod bad_input;
mod buyer;
mod causes;
mod common_practice;
mod guard_bands;
mod history;
mod next_steps;
mod oil_and_speed;
mod other_model;
mod printed_engines;
mod propagation;
mod published_rules;
mod rule_sets;
mod score;
mod shared_causes;
mod support;
mod units;
mod verdict;
