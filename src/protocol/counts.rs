//! How packets decoded, in numbers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the packets decoded; each kind of trouble is counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PacketCounts {
    /// Packets received on the stream.
    pub received: u64,
    /// Samples decoded from them.
    pub samples: u64,
    /// Packets that never came, by their sequence numbers; what was missed while the link was
    /// down is not among them.
    pub lost: u64,
    /// Packets that came twice (or too late to be used).
    pub repeated: u64,
    /// Packets that came out of order and were put back.
    pub reordered: u64,
    /// Packets too short to decode.
    pub short: u64,
    /// Packets with bytes left over.
    pub long: u64,
    /// Packets with status bits the protocol file does not know.
    pub unknown_status: u64,
    /// Samples at a code that means out of range, or no number at all.
    pub out_of_range: u64,
    /// How often the link was lost.
    pub link_losses: u64,
    /// How often the sensor began anew: its clock or its sequence numbers jumped.
    pub restarts: u64,
    /// Frames or lines whose check failed, or whose length cannot be.
    #[serde(default, skip_serializing_if = "is_none")]
    pub spoilt: u64,
    /// Lines of text that do not fit the protocol file's pattern.
    #[serde(default, skip_serializing_if = "is_none")]
    pub unread: u64,
    /// Messages of another kind: a field does not hold the number that it must.
    #[serde(default, skip_serializing_if = "is_none")]
    pub other_kind: u64,
    /// Bytes between frames, and of lines whose beginning was not seen.
    #[serde(default, skip_serializing_if = "is_none")]
    pub skipped_bytes: u64,
}

/// What only some sensors can have is not written where there is none of it.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde's signature")]
fn is_none(count: &u64) -> bool {
    *count == 0
}

impl std::ops::AddAssign for PacketCounts {
    fn add_assign(&mut self, other: Self) {
        self.received += other.received;
        self.samples += other.samples;
        self.lost += other.lost;
        self.repeated += other.repeated;
        self.reordered += other.reordered;
        self.short += other.short;
        self.long += other.long;
        self.unknown_status += other.unknown_status;
        self.out_of_range += other.out_of_range;
        self.link_losses += other.link_losses;
        self.restarts += other.restarts;
        self.spoilt += other.spoilt;
        self.unread += other.unread;
        self.other_kind += other.other_kind;
        self.skipped_bytes += other.skipped_bytes;
    }
}
