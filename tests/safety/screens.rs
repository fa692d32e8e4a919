//! The screens of three visits, kept: a diesel, a two-stroke, a twin.

use crate::bench::{Bench, low};
use crate::engines::Engine;
use needlerest::cli::gauge::{
    Asked, Number, RunScene, Scene, SensorScene, Theme, cautions_page, draw,
};
use needlerest::engine::{Condition, Cycle, Decompressor, Fuel, Ignition, Start};
use needlerest::session::Session;
use needlerest::units::{Pressure, PressureUnit};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

const SIZE: (u16, u16) = (100, 30);

fn text(buf: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buf.area.height {
        let line: String = (0..buf.area.width).map(|x| buf[(x, y)].symbol()).collect();
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

fn cautions(session: &Session) -> String {
    let area = Rect::new(0, 0, SIZE.0, SIZE.1);
    let all = session.cautions();
    let mut buf = Buffer::empty(area);
    let mut pages = Vec::new();
    let last = cautions_page(&all, 0, area, &mut buf);
    pages.push(text(&buf));
    if last > 0 {
        let mut buf = Buffer::empty(area);
        cautions_page(&all, last, area, &mut buf);
        pages.push(text(&buf));
    }
    pages.join("==== next page ====\n")
}

/// The gauge as it is before a stroke.
fn gauge(session: &Session) -> String {
    let scene = Scene {
        engine: "Wren".to_owned(),
        view: session.view(),
        cautions: Vec::new(),
        unit: PressureUnit::Bar,
        now: Some(Pressure::ZERO),
        number: Number::Now(Pressure::ZERO),
        full_scale: Pressure::from_kpa(2000.0),
        asked: Asked::default(),
        run: RunScene::default(),
        others: Vec::new(),
        sensor: SensorScene::default(),
        keys: Vec::new(),
        places: Vec::new(),
        typing: None,
        trouble: None,
    };
    let area = Rect::new(0, 0, SIZE.0, SIZE.1);
    let mut buf = Buffer::empty(area);
    draw(&scene, Theme::Plain, area, &mut buf);
    text(&buf).lines().take(12).collect::<Vec<_>>().join("\n")
}

/// Cautions, first cylinder, and what comes after a round in which cylinder 2 was low.
fn walked(engine: &Engine) -> String {
    let mut bench = Bench::new(engine.setup());
    bench.wait(0.25);
    let mut screens = vec![cautions(&bench.session)];
    bench.command(needlerest::session::Command::Go);
    bench.zero(0.0);
    screens.push(gauge(&bench.session));
    bench.make_run();
    bench.assess_as = Some(low("2", "1", Condition::ColdDry));
    bench.make_run();
    screens.push(gauge(&bench.session));
    screens.join("\n==== next screen ====\n")
}

#[test]
fn screens_of_a_diesel_a_two_stroke_and_a_twin() {
    let twin = Engine {
        ignition: Ignition::Spark,
        cycle: Cycle::FourStroke,
        start: Some(Start::Kick),
        fuel: Some(Fuel::Carburettor),
        decompressor: Some(Decompressor::Manual),
        top_bar: Some(16.0),
    };
    let two_stroke = Engine {
        cycle: Cycle::TwoStroke,
        start: Some(Start::PullCord),
        decompressor: Some(Decompressor::None),
        top_bar: Some(25.0),
        ..twin
    };
    let diesel = Engine {
        ignition: Ignition::Compression,
        start: Some(Start::Electric),
        fuel: None,
        decompressor: None,
        top_bar: Some(70.0),
        ..twin
    };
    for (name, engine) in [
        ("twin", twin),
        ("two-stroke", two_stroke),
        ("diesel", diesel),
    ] {
        insta::assert_snapshot!(name, walked(&engine));
    }
}
