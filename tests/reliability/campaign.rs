//! Every fault again and again, and the table of how the tool did.

use super::support::{PROMISED_US, number};
use super::{damage, disks, killed, power};

#[test]
fn campaign_of_faults() {
    let tries = number("RELIABILITY_TRIES", 16);
    let lanes = number("RELIABILITY_LANES", 4);
    // What takes seconds each is tried less often.
    let few = tries.div_ceil(8);
    let tallies = [
        killed::campaign(tries, lanes),
        power::campaign(tries),
        disks::detached(few),
        disks::stalled(few.div_ceil(4)),
        disks::full(few),
        disks::deleted(few.div_ceil(4)),
        disks::cut_short(few.div_ceil(4)),
        disks::read_only(),
        damage::campaign(tries),
        damage::recovery(few),
    ];
    println!("\n| fault | tries | packets lost | longest stretch lost | told after | wrong |");
    println!("|---|---|---|---|---|---|");
    for tally in &tallies {
        let told = tally
            .told_ms
            .map_or("–".to_owned(), |ms| format!("{ms} ms"));
        println!(
            "| {} | {} | {} | {:.0} ms | {told} | {} |",
            tally.fault,
            tally.tries,
            tally.lost,
            tally.lost_us as f64 / 1e3,
            tally.wrong
        );
    }
    let remarks = || {
        tallies
            .iter()
            .flat_map(|tally| tally.remarks.iter().take(20))
    };
    for remark in remarks() {
        println!("{remark}");
    }
    assert!(
        tallies.iter().all(|tally| tally.wrong == 0),
        "{:?}",
        remarks().collect::<Vec<_>>()
    );
    // In these two no clock is involved but that of the packets.
    for tally in &tallies[..2] {
        assert!(tally.lost_us <= PROMISED_US, "{tally:?}");
    }
    for tally in tallies.iter().filter(|tally| tally.tries == 0) {
        super::skip::cannot(&format!("{}: {}", tally.fault, tally.remarks.join(", ")));
    }
}
