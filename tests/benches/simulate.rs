//! How much faster than real time one cylinder is simulated on one core, and what halving the step
//! changes. Prints two tables; asserts nothing.
//!
//! `cargo bench --bench simulate`; with `-- holding` only the case that
//! `tests/benches/peers/simulator.py` gives to general-purpose solvers.

use needlerest::simulate::{
    CheckValve, Family, Fault, Machine, RunSpec, SimulateError, Tester, Turning, draw, run, samples,
};
use std::f64::consts::TAU;
use std::time::{Duration, Instant};

/// Drawn visits that the first table is made from.
const VISITS: u64 = 60;
/// Simulated seconds of steady cranking for each line of the second table.
const CRANKED_S: f64 = 60.0;

fn main() -> Result<(), SimulateError> {
    println!("The case \"holding\" of fixtures/simulate, 12 turns at 200 rpm:\n");
    println!("| step, ms | × real time | largest error of a peak |");
    println!("| --- | --- | --- |");
    for step_ms in [0.4, 0.8, 1.6] {
        holding(step_ms)?;
    }
    if std::env::args().any(|argument| argument == "holding") {
        return Ok(());
    }
    println!();
    println!("Whole runs of {VISITS} drawn visits, one thread:\n");
    println!(
        "| family | runs | simulated, s | samples only, × real time | with truth, × real time |"
    );
    println!("| --- | --- | --- | --- | --- |");
    for family in Family::ALL {
        whole_runs(family)?;
    }
    println!("\nCranking at 250 rpm without pause, holding rig (recipes use 0.4 ms):\n");
    println!("| family | step, ms | × real time | plateau, kPa | with half the step |");
    println!("| --- | --- | --- | --- | --- |");
    for family in Family::ALL {
        for step_ms in [0.4, 0.8, 1.6] {
            cranking(family, step_ms)?;
        }
    }
    Ok(())
}

/// The runs of a family that one cylinder with its tester decides.
fn whole_runs(family: Family) -> Result<(), SimulateError> {
    let (mut runs, mut simulated) = (0, 0.0);
    let (mut sampling, mut in_all) = (Duration::ZERO, Duration::ZERO);
    let visits = (0..VISITS).map(|index| draw(1, index));
    for drawn in visits.filter(|d| d.family == family && d.fault != Fault::Gasket) {
        for spec in drawn.recipe.run_specs() {
            let begun = Instant::now();
            if samples(&spec).is_err() {
                // Too weak to turn the engine over.
                continue;
            }
            sampling += begun.elapsed();
            let begun = Instant::now();
            let truth = run(&spec)?.truth;
            in_all += begun.elapsed();
            simulated += truth.ends.s() - truth.begins.s();
            runs += 1;
        }
    }
    println!(
        "| {} | {runs} | {simulated:.0} | {:.0} | {:.0} |",
        family.label(),
        simulated / sampling.as_secs_f64(),
        simulated / in_all.as_secs_f64(),
    );
    Ok(())
}

/// The equations that `fixtures/simulate/make.py` solves, and how far the peaks are from its.
fn holding(step_ms: f64) -> Result<(), SimulateError> {
    const SECONDS: f64 = 3.6;
    let mut spec = steady(Family::Irrigation);
    spec.engine = Family::Irrigation.engine();
    if let Some(valves) = &mut spec.engine.valves {
        valves.exhaust_mm2 = 480.0;
    }
    spec.engine.throttle_mm2 = 480.0;
    spec.engine.cylinders.truncate(1);
    spec.engine.cylinders[0].ring_leak_mm2 = 0.3;
    spec.cylinder.clone_from(&spec.engine.cylinders[0].name);
    (spec.oil, spec.plugs_in, spec.throttle) = (None, false, 1.0);
    (spec.wall_celsius, spec.starts_at_deg) = (20.0, 0.0);
    (spec.surroundings.ambient_kpa, spec.surroundings.air_celsius) = (101.325, 20.0);
    spec.turning = Turning::Steady { rpm: 200.0 };
    spec.step_ms = step_ms;
    spec.tester = Tester {
        adapter_cm3: 1.2,
        hose_cm3: 15.0,
        way_mm2: 8.0,
        check_valve: Some(CheckValve {
            cracking_kpa: 12.0,
            leak_mm2: 0.0,
        }),
        leak_mm2: 0.0,
        heat_w_per_k: 3.0,
        bleed_mm2: 3.0,
    };
    let (mut fastest, mut peaks) = (Duration::MAX, Vec::new());
    for _ in 0..20 {
        let begun = Instant::now();
        let mut machine = Machine::new(&spec)?;
        machine.crank(true);
        peaks = vec![[0.0_f64; 2]; 7];
        while machine.time() < SECONDS {
            let moment = machine.advance()?;
            let peak = &mut peaks[(moment.angle / (2.0 * TAU) + 0.5) as usize];
            peak[0] = peak[0].max(moment.cylinder - machine.ambient());
            peak[1] = peak[1].max(moment.tester - machine.ambient());
        }
        fastest = fastest.min(begun.elapsed());
    }
    let text = include_str!("../../fixtures/simulate/strokes.json");
    let kept: serde_json::Value = serde_json::from_str(text).expect("JSON");
    let mut worst = 0.0_f64;
    // The first row is the start from top dead centre, the last is cut off.
    for (stroke, peak) in peaks.iter().enumerate().take(6).skip(1) {
        for (which, found) in peak.iter().enumerate() {
            let wanted = &kept["gauge_peaks_pa"]["holding"][stroke][which];
            worst = worst.max((found / wanted.as_f64().expect("a peak") - 1.0).abs());
        }
    }
    println!(
        "| {step_ms} | {:.0} | {:.4} % |",
        SECONDS / fastest.as_secs_f64(),
        100.0 * worst
    );
    Ok(())
}

fn cranking(family: Family, step_ms: f64) -> Result<(), SimulateError> {
    let mut spec = steady(family);
    spec.step_ms = step_ms;
    let mut fastest = Duration::MAX;
    let mut plateau = 0.0;
    for _ in 0..3 {
        let begun = Instant::now();
        plateau = settled(&spec)?;
        fastest = fastest.min(begun.elapsed());
    }
    spec.step_ms /= 2.0;
    let halved = settled(&spec)?;
    println!(
        "| {} | {step_ms} | {:.0} | {:.2} | {:+.4} % |",
        family.label(),
        CRANKED_S / fastest.as_secs_f64(),
        plateau / 1e3,
        100.0 * (halved / plateau - 1.0),
    );
    Ok(())
}

/// A drawn run of the family on a holding rig, cranked at a steady speed.
fn steady(family: Family) -> RunSpec {
    let sound = (0..100_000).map(|index| draw(1, index)).find(|drawn| {
        let holding = drawn.recipe.tester.check_valve.is_some();
        drawn.family == family && drawn.fault == Fault::None && holding
    });
    let specs = sound.map(|drawn| drawn.recipe.run_specs());
    let mut spec = specs
        .and_then(|specs| specs.into_iter().next())
        .expect("every family is drawn within the first few hundred");
    spec.turning = Turning::Steady { rpm: 250.0 };
    spec
}

/// Highest gauge pressure (Pa) that the tester comes to.
fn settled(spec: &RunSpec) -> Result<f64, SimulateError> {
    let mut machine = Machine::new(spec)?;
    machine.crank(true);
    let mut highest = 0.0_f64;
    while machine.time() < CRANKED_S {
        highest = highest.max(machine.advance()?.tester);
    }
    Ok(highest - machine.ambient())
}
