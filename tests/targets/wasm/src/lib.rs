//! The core as a WebAssembly module without imports: a recording goes in byte by byte, its
//! findings come out byte by byte. Slow, and without a pointer.

// A symbol that the host calls has to keep its name, which Rust counts as unsafe; nothing else here is.
#![allow(unsafe_code, reason = "no_mangle on exported functions")]

use std::cell::RefCell;

thread_local! {
    static RECORDING: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    static FINDINGS: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

/// One more byte of the recording.
#[unsafe(no_mangle)]
pub extern "C" fn push(byte: u8) {
    RECORDING.with_borrow_mut(|recording| recording.push(byte));
}

/// Analyses what was pushed and forgets it: how many bytes the findings, or the error, are.
#[unsafe(no_mangle)]
pub extern "C" fn analyse() -> usize {
    let text = core_findings::findings(&RECORDING.take());
    FINDINGS.replace(text.into_bytes());
    FINDINGS.with_borrow(Vec::len)
}

/// The byte at this place of the findings.
#[unsafe(no_mangle)]
pub extern "C" fn byte(at: usize) -> u8 {
    FINDINGS.with_borrow(|findings| findings.get(at).copied().unwrap_or_default())
}
