//! How much the path from the bus to the disk carries. Prints; judges only that nothing is lost.

use crate::stage::Stage;
use std::time::Instant;

const NOTIFICATIONS: usize = 100_000;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "measures; run by hand in release: cargo test --release --test radio flood -- --ignored --nocapture"]
async fn flood_of_notifications() {
    let Some(stage) = Stage::set().await else {
        return;
    };
    let running = stage.recording(&[], 20).await;
    let begun = Instant::now();
    stage.send_now(NOTIFICATIONS).await;
    let sent_s = begun.elapsed().as_secs_f64();
    running.signal("INT");
    let pid = running.pid();
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap_or_default();
    let ended = running.end().await;
    let all_s = begun.elapsed().as_secs_f64();
    ended.expect(0);
    stage.compare().await.sealed();
    let peak = status
        .lines()
        .find(|line| line.starts_with("VmHWM"))
        .unwrap_or_default();
    println!(
        "{NOTIFICATIONS} notifications sent in {sent_s:.1} s, all on the disk and sealed after \
         {all_s:.1} s ({:.0} a second); {peak}",
        NOTIFICATIONS as f64 / all_s
    );
}
