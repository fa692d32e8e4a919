//! Impossible descriptions are refused by the name of the field.

use super::SimulateError;
use super::shape::{clearance, companions};
use super::spec::{Engine, Ports, RunSpec, Sensor, Tester, Turning, Valves};
use super::surroundings::VOLUMES;
use crate::engine::Cycle;

type Checked = Result<(), SimulateError>;

/// Checks a whole run.
pub(super) fn run(spec: &RunSpec) -> Checked {
    engine(&spec.engine)?;
    let Some(tested) = index_of(&spec.engine, &spec.cylinder) else {
        return refuse(
            "cylinder",
            format!("the engine has no cylinder \"{}\"", spec.cylinder),
        );
    };
    within("wall_celsius", spec.wall_celsius, -40.0, 300.0)?;
    within(
        "surroundings.ambient_kpa",
        spec.surroundings.ambient_kpa,
        30.0,
        120.0,
    )?;
    within(
        "surroundings.air_celsius",
        spec.surroundings.air_celsius,
        -40.0,
        60.0,
    )?;
    within("throttle", spec.throttle, 0.0, 1.0)?;
    within("step_ms", spec.step_ms, 0.005, 2.0)?;
    within("heat_factor", spec.heat_factor, 0.0, 10.0)?;
    within("starts_at_deg", spec.starts_at_deg, -720.0, 720.0)?;
    within("program.quiet_s", spec.program.quiet_s, 0.0, 3600.0)?;
    within(
        "program.crank_at_most_s",
        spec.program.crank_at_most_s,
        0.1,
        600.0,
    )?;
    within("program.hold_s", spec.program.hold_s, 0.0, 3600.0)?;
    within("program.bleed_s", spec.program.bleed_s, 0.0, 3600.0)?;
    within("program.rest_s", spec.program.rest_s, 0.0, 3600.0)?;
    turning(&spec.turning)?;
    tester(&spec.tester)?;
    sensor(&spec.sensor)?;
    oil(spec, tested)?;
    let each = 1 + usize::from(spec.engine.cycle == Cycle::TwoStroke);
    // The surroundings, the hose and what is behind the throttle beside the cylinders.
    let volumes = 3 + each * (1 + companions(spec, tested).len());
    if volumes > VOLUMES {
        return refuse(
            "plugs_in",
            "too many cylinders to look at together; take the other plugs out",
        );
    }
    Ok(())
}

/// Checks an engine.
pub(super) fn engine(engine: &Engine) -> Checked {
    within("engine.bore_mm", engine.bore_mm, 10.0, 300.0)?;
    within("engine.stroke_mm", engine.stroke_mm, 10.0, 300.0)?;
    let least = engine.stroke_mm / 2.0 + engine.pin_offset_mm.abs();
    if !(engine.rod_mm > least && engine.rod_mm < 1000.0) {
        return refuse(
            "engine.rod_mm",
            format!(
                "{} mm is not longer than crank throw and pin offset together ({least} mm), or absurd",
                engine.rod_mm
            ),
        );
    }
    within("engine.pin_offset_mm", engine.pin_offset_mm, -20.0, 20.0)?;
    within(
        "engine.compression_ratio",
        engine.compression_ratio,
        2.0,
        25.0,
    )?;
    within("engine.throttle_mm2", engine.throttle_mm2, 1.0, 1e5)?;
    within("engine.manifold_cm3", engine.manifold_cm3, 1.0, 1e5)?;
    within("engine.inertia_kg_m2", engine.inertia_kg_m2, 1e-5, 100.0)?;
    within("engine.friction_kpa", engine.friction_kpa, 0.0, 1000.0)?;
    match (engine.cycle, engine.valves, engine.ports) {
        (Cycle::FourStroke, Some(v), None) => valves(v)?,
        (Cycle::TwoStroke, None, Some(p)) => ports(p)?,
        (Cycle::FourStroke, ..) => {
            return refuse("engine.valves", "a four-stroke has valves and no ports");
        }
        (Cycle::TwoStroke, ..) => {
            return refuse("engine.ports", "a two-stroke has ports and no valves");
        }
    }
    cylinders(engine)
}

fn cylinders(engine: &Engine) -> Checked {
    if engine.cylinders.is_empty() {
        return refuse("engine.cylinder", "an engine has at least one cylinder");
    }
    for (i, cylinder) in engine.cylinders.iter().enumerate() {
        let field = |name: &str| format!("engine.cylinder[{}].{name}", cylinder.name);
        if index_of(engine, &cylinder.name) != Some(i) {
            return refuse(&field("name"), "two cylinders have the same name");
        }
        for (name, leak) in [
            ("ring_leak_mm2", cylinder.ring_leak_mm2),
            ("intake_leak_mm2", cylinder.intake_leak_mm2),
            ("exhaust_leak_mm2", cylinder.exhaust_leak_mm2),
        ] {
            within(&field(name), leak, 0.0, 1000.0)?;
        }
        within(&field("fires_deg"), cylinder.fires_deg, 0.0, 720.0)?;
        within(&field("cam_late_deg"), cylinder.cam_late_deg, -60.0, 60.0)?;
        within(&field("deposits_cm3"), cylinder.deposits_cm3, 0.0, 1000.0)?;
        if clearance(engine, cylinder) <= 0.0 {
            return refuse(
                &field("deposits_cm3"),
                "deposits fill up more than the clearance volume",
            );
        }
    }
    for gasket in &engine.gaskets {
        within("engine.gasket.leak_mm2", gasket.leak_mm2, 0.0, 1000.0)?;
        for name in &gasket.between {
            if index_of(engine, name).is_none() {
                return refuse(
                    "engine.gasket.between",
                    format!("the engine has no cylinder \"{name}\""),
                );
            }
        }
    }
    Ok(())
}

fn valves(valves: Valves) -> Checked {
    within("engine.valves.intake_mm2", valves.intake_mm2, 0.1, 1e5)?;
    within("engine.valves.exhaust_mm2", valves.exhaust_mm2, 0.1, 1e5)?;
    for (field, before, after) in [
        (
            "engine.valves.intake_closes_abdc",
            valves.intake_opens_btdc,
            valves.intake_closes_abdc,
        ),
        (
            "engine.valves.exhaust_opens_bbdc",
            valves.exhaust_closes_atdc,
            valves.exhaust_opens_bbdc,
        ),
    ] {
        let open_for = 180.0 + before + after;
        if open_for <= 20.0 {
            return refuse(field, format!("the valve never opens ({open_for} degrees)"));
        }
        if !(open_for < 400.0 && before.abs() < 180.0 && after.abs() < 180.0) {
            return refuse(
                field,
                format!(
                    "the valve is open for {open_for} degrees of crank; there is no compression"
                ),
            );
        }
    }
    Ok(())
}

fn ports(ports: Ports) -> Checked {
    within(
        "engine.ports.exhaust_opens_atdc",
        ports.exhaust_opens_atdc,
        45.0,
        175.0,
    )?;
    within(
        "engine.ports.transfer_opens_atdc",
        ports.transfer_opens_atdc,
        45.0,
        175.0,
    )?;
    within(
        "engine.ports.exhaust_width_mm",
        ports.exhaust_width_mm,
        0.1,
        500.0,
    )?;
    within(
        "engine.ports.transfer_width_mm",
        ports.transfer_width_mm,
        0.1,
        500.0,
    )?;
    within(
        "engine.ports.crankcase_ratio",
        ports.crankcase_ratio,
        1.05,
        3.0,
    )?;
    within("engine.ports.reed_mm2", ports.reed_mm2, 0.1, 1e5)
}

fn turning(turning: &Turning) -> Checked {
    match *turning {
        Turning::Steady { rpm } => within("turning.rpm", rpm, 1.0, 5000.0),
        Turning::Electric {
            stall_nm,
            free_rpm,
            battery,
        } => {
            within("turning.stall_nm", stall_nm, 0.01, 10_000.0)?;
            within("turning.free_rpm", free_rpm, 1.0, 5000.0)?;
            within("turning.battery", battery, 0.05, 1.5)
        }
        Turning::Kick(bursts) | Turning::PullCord(bursts) => {
            within("turning.torque_nm", bursts.torque_nm, 0.01, 10_000.0)?;
            within("turning.free_rpm", bursts.free_rpm, 1.0, 5000.0)?;
            within("turning.turns", bursts.turns, 0.1, 50.0)?;
            within("turning.pause_s", bursts.pause_s, 0.0, 600.0)?;
            within("turning.variation", bursts.variation, 0.0, 1.0)
        }
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            variation,
        } => {
            within("turning.torque_nm", torque_nm, 0.01, 10_000.0)?;
            within("turning.free_rpm", free_rpm, 1.0, 5000.0)?;
            within("turning.variation", variation, 0.0, 1.0)
        }
    }
}

fn tester(tester: &Tester) -> Checked {
    within("tester.adapter_cm3", tester.adapter_cm3, 0.0, 1000.0)?;
    within("tester.hose_cm3", tester.hose_cm3, 0.0, 10_000.0)?;
    within("tester.leak_mm2", tester.leak_mm2, 0.0, 100.0)?;
    within("tester.heat_w_per_k", tester.heat_w_per_k, 0.0, 1e4)?;
    within("tester.bleed_mm2", tester.bleed_mm2, 0.0, 1000.0)?;
    if tester.hose_cm3 > 0.0 {
        within("tester.hose_cm3", tester.hose_cm3, 0.1, 10_000.0)?;
        within("tester.way_mm2", tester.way_mm2, 0.001, 1000.0)?;
    }
    if let Some(valve) = tester.check_valve {
        within(
            "tester.check_valve.cracking_kpa",
            valve.cracking_kpa,
            0.0,
            500.0,
        )?;
        within("tester.check_valve.leak_mm2", valve.leak_mm2, 0.0, 100.0)?;
        if tester.hose_cm3 <= 0.0 {
            return refuse(
                "tester.hose_cm3",
                "a check valve needs a volume behind it, however small",
            );
        }
    }
    Ok(())
}

/// Checks a sensor.
fn sensor(sensor: &Sensor) -> Checked {
    within("sensor.rate_hz", sensor.rate_hz, 5.0, 2000.0)?;
    within("sensor.lag_ms", sensor.lag_ms, 0.0, 1000.0)?;
    within("sensor.resolution_kpa", sensor.resolution_kpa, 0.0, 100.0)?;
    within("sensor.noise_kpa", sensor.noise_kpa, 0.0, 1000.0)?;
    within("sensor.slow_noise_kpa", sensor.slow_noise_kpa, 0.0, 1000.0)?;
    within("sensor.slow_noise_s", sensor.slow_noise_s, 1e-3, 1e4)?;
    within("sensor.offset_kpa", sensor.offset_kpa, -1e4, 1e4)?;
    within("sensor.span_error", sensor.span_error, -0.5, 0.5)?;
    within("sensor.warm_up_kpa", sensor.warm_up_kpa, -1e3, 1e3)?;
    within("sensor.warm_up_s", sensor.warm_up_s, 0.1, 1e5)?;
    within("sensor.clock_ppm", sensor.clock_ppm, -1e5, 1e5)?;
    within("sensor.range_min_kpa", sensor.range_min_kpa, -1e5, 1e6)?;
    within("sensor.range_max_kpa", sensor.range_max_kpa, -1e5, 1e6)?;
    if sensor.range_max_kpa <= sensor.range_min_kpa {
        return refuse(
            "sensor.range_max_kpa",
            "the range ends where it begins or before",
        );
    }
    Ok(())
}

fn oil(spec: &RunSpec, tested: usize) -> Checked {
    let Some(oil) = spec.oil else { return Ok(()) };
    within("oil.ml", oil.ml, 0.0, 1000.0)?;
    within("oil.ring_share", oil.ring_share, 0.0, 1.0)?;
    within("oil.seals_for_strokes", oil.seals_for_strokes, 0.1, 1e6)?;
    within("oil.stays_for_strokes", oil.stays_for_strokes, 0.1, 1e6)?;
    let clearance = clearance(&spec.engine, &spec.engine.cylinders[tested]);
    if oil.ml * 1e-6 >= 0.8 * clearance {
        return refuse(
            "oil.ml",
            format!(
                "{} ml in a clearance of {:.1} cm³ is a hydraulic lock; pour in less",
                oil.ml,
                clearance * 1e6
            ),
        );
    }
    Ok(())
}

fn index_of(engine: &Engine, name: &str) -> Option<usize> {
    engine.cylinders.iter().position(|c| c.name == name)
}

/// Refuses what is not a number between the bounds.
pub(super) fn within(field: &str, value: f64, low: f64, high: f64) -> Checked {
    if value >= low && value <= high {
        return Ok(());
    }
    refuse(field, format!("{value} is not between {low} and {high}"))
}

fn refuse(field: &str, why: impl Into<String>) -> Checked {
    Err(SimulateError::impossible(field, why))
}
