//! What is handed over, held against what a reader of it needs.

#[path = "../support/skip.rs"]
mod skip;

mod fixture;
mod folder;
mod forger;
mod link;
mod openssl;
mod overview;
mod page;
#[cfg(feature = "pdf")]
mod pdf;
mod plots;
mod recorded;
mod samples;
mod show;
mod tables;
mod text;
mod verify;
