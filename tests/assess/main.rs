//! Tests of the assessment against published rules, worked examples and bad input.

mod common_practice;
mod published_rules;
mod support;
