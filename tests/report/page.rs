//! The page: whole, safe, and in step with the findings.

use crate::fixture;
use needlerest::pipeline::Findings;
use needlerest::report::{Units, page};
use needlerest::units::PressureUnit;
use std::process::Command;

pub fn made(findings: &Findings) -> String {
    page(findings, &fixture::traces(findings), Units::of(findings)).unwrap()
}

/// What stands between `start` and the next `end`.
fn between<'a>(text: &'a str, start: &str, end: &str) -> &'a str {
    let from = text.find(start).expect(start) + start.len();
    let length = text[from..].find(end).expect(end);
    &text[from..from + length]
}

fn unescape(text: &str) -> String {
    text.replace("&#x2f;", "/")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#x27;", "'")
        .replace("&amp;", "&")
}

/// Every `<data>`: its value, where it says it comes from, and its text.
fn numbers(html: &str) -> Vec<(f64, String, String)> {
    html.split("<data value=\"")
        .skip(1)
        .map(|rest| {
            let (value, rest) = rest.split_once('"').unwrap();
            let from = unescape(between(rest, "data-from=\"", "\""));
            let text = between(rest, ">", "</data>").to_owned();
            (value.parse().unwrap(), from, text)
        })
        .collect()
}

#[test]
fn every_number_equals_the_json_at_its_place() {
    for (name, findings) in fixture::all() {
        let html = made(&findings);
        let json = between(&html, "id=\"findings\">", "</script>");
        let json: serde_json::Value = serde_json::from_str(json).unwrap();
        assert_eq!(json, serde_json::to_value(&findings).unwrap());
        let numbers = numbers(&html);
        assert!(numbers.len() > 2, "{name} shows no numbers");
        for (value, from, text) in numbers {
            let there = json.pointer(&from).and_then(serde_json::Value::as_f64);
            assert_eq!(there, Some(value), "{name}: {from} is shown as {text}");
        }
    }
}

/// The texts of numbers are their values in the unit shown, to the digits shown.
#[test]
fn every_number_is_shown_to_its_last_digit() {
    let html = made(&fixture::full());
    for (value, from, text) in numbers(&html) {
        let shown: f64 = text.parse().unwrap();
        let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
        let half_digit = 0.5 / libm::pow(10.0, decimals as f64) + 1e-9;
        let true_value = if from.ends_with("_pa") {
            value / PressureUnit::Psi.pascals()
        } else if from.ends_with("_hz") {
            value * 60.0
        } else if ["share", "probability", "/ratio", "unevenness"]
            .iter()
            .any(|part| from.contains(part))
        {
            value * 100.0
        } else {
            value
        };
        assert!(
            (shown - true_value).abs() <= half_digit,
            "{from}: {value} shown as {text}"
        );
    }
}

#[test]
fn names_cannot_break_out() {
    let html = made(&fixture::hostile());
    let body = html
        .split("<script type=\"application/json\"")
        .next()
        .unwrap();
    assert!(!body.contains("<script"));
    assert!(!body.contains("<img"));
    assert!(
        !html.contains("</script><"),
        "an embedded value ends its element"
    );
    assert_eq!(html.matches("<script").count(), 3);
    assert!(!html.contains('\u{202e}') && !html.contains('\u{1b}'));
    assert!(body.contains("&lt;script&gt;"));
}

#[test]
fn loads_nothing_from_elsewhere_and_stays_small() {
    let html = made(&fixture::four());
    for forbidden in ["src=", "@import", "url(", "href=\"http", "<link"] {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    assert!(html.len() < 1_000_000, "{} bytes", html.len());
}

/// Content Security Policy Level 3, 2.3.1 and 6.7.3.3: a hash-source is the digest of the element's
/// text in base64; attributes are never covered by it.
#[test]
fn only_its_own_style_and_script_are_let_in() {
    let html = made(&fixture::four());
    let policy = between(
        &html,
        "http-equiv=\"Content-Security-Policy\" content=\"",
        "\"",
    );
    let policy = unescape(policy);
    assert!(policy.starts_with("default-src 'none'; style-src 'sha256-"));
    assert!(!policy.contains("unsafe"), "{policy}");
    for (rule, element) in [("style-src '", "style"), ("script-src '", "script")] {
        let text = between(&html, &format!("<{element}>"), &format!("</{element}>"));
        if let Some(hash) = hash_source(text) {
            assert_eq!(between(&policy, rule, "'"), hash, "{element}");
        }
    }
    assert_eq!(html.matches("<style").count(), 1);
    assert!(!html.contains("style=\""), "an attribute is not covered");
    assert!(!html.contains(" onclick=") && !html.contains("javascript:"));
}

/// By OpenSSL: SHA-256 (FIPS 180-4) in base64 (RFC 4648, section 4). None, and said so, where there
/// is none.
fn hash_source(text: &str) -> Option<String> {
    let dir = tempfile::tempdir().unwrap();
    let place = dir.path().join("text");
    std::fs::write(&place, text).unwrap();
    let script = "openssl dgst -sha256 -binary \"$1\" | openssl base64 -A";
    let made = Command::new("sh")
        .args(["-c", script, "sh"])
        .arg(&place)
        .output()
        .unwrap();
    let letters = String::from_utf8(made.stdout).unwrap();
    if letters.is_empty() {
        crate::skip::for_want_of("openssl");
        return None;
    }
    Some(format!("sha256-{letters}"))
}

/// By the factors of NIST SP 811, appendix B.8.
#[test]
fn a_second_unit_stands_beside_the_first() {
    let findings = fixture::one();
    let units = Units {
        main: PressureUnit::KgfPerCm2,
        also: Some(PressureUnit::KPa),
    };
    let html = page(&findings, &[], units).unwrap();
    // 131 psi = 9.210 kgf/cm² = 903.2 kPa.
    assert!(html.contains(">9.21</data>") && html.contains(">903.2</data>"));
    assert!(html.contains("kgf/cm²") && html.contains("kPa"));
}

#[test]
fn the_same_each_time() {
    assert_eq!(made(&fixture::four()), made(&fixture::four()));
}

/// The first page on paper stands alone: a chart, the cautions, the seal.
#[test]
fn the_sheet_has_one_chart_cautions_and_the_seal() {
    let findings = fixture::full();
    let html = made(&findings);
    let sheet = between(&html, "<div class=\"sheet\">", "</div>");
    assert_eq!(sheet.matches("<svg").count(), 1);
    assert!(sheet.contains("Cautions") && sheet.contains("Seal"));
    let seal = findings.recording.seal.as_ref().expect("a sealed fixture");
    assert!(sheet.contains(seal.as_str()), "{sheet}");
}

/// A single cylinder has its build-up once, besides the sheet's.
#[test]
fn a_single_cylinder_has_its_chart_once() {
    let html = made(&fixture::one());
    let curves = between(&html, "<h2 id=\"curves\">", "</section>");
    assert_eq!(curves.matches("<svg").count(), 1);
}

/// Every build-up plot has the same scale, and it begins at zero.
#[test]
fn all_build_ups_share_a_scale_from_zero() {
    let html = made(&fixture::full());
    let curves = between(&html, "<h2 id=\"curves\">", "</section>");
    let ticks = |plot: &str| -> Vec<String> {
        let texts = plot.split("text-anchor=\"end\">").skip(1);
        texts
            .map(|text| text.split('<').next().unwrap().to_owned())
            .collect()
    };
    let all: Vec<Vec<String>> = curves.split("<svg").skip(1).map(ticks).collect();
    assert!(all.len() > 2);
    assert!(all[0].contains(&"0".to_owned()), "{:?}", all[0]);
    assert!(all.iter().all(|one| *one == all[0]), "{all:?}");
}

#[test]
fn numbers_stay_with_their_units() {
    let html = made(&fixture::full());
    let body = html.split("<script type").next().unwrap();
    assert!(!body.contains(" ± "), "a ± that may end a line");
    assert!(body.contains("\u{a0}psi"));
}
