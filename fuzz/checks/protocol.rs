use needlerest::protocol::{Command, Decoder, ProtocolFile, explain, limits};
use needlerest::units::{Pressure, Rate, Time};

/// Any text is a sound protocol file or a clear error; a sound one has only finite numbers and
/// decodes any payload.
pub fn protocol_file(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let file = match ProtocolFile::parse(&text) {
        Ok(file) => file,
        Err(error) => {
            let lines = text.split('\n').count();
            assert!(
                error.line.is_none_or(|line| (1..=lines).contains(&line)),
                "{error}"
            );
            assert!(
                !error.what.is_empty() && !error.remedy.is_empty(),
                "{error:?}"
            );
            assert!(
                error.to_string().len() < 4096,
                "{}",
                error.to_string().len()
            );
            return;
        }
    };
    assert!(text.len() <= limits::FILE);
    assert_eq!(ProtocolFile::parse(file.text()).as_ref(), Ok(&file));
    let numbers = [
        file.range_low().map(Pressure::pa),
        file.range_high().map(Pressure::pa),
        file.resolution().map(Pressure::pa),
        file.resolution_uncertainty().map(Pressure::pa),
        file.accuracy_uncertainty().map(Pressure::pa),
        file.rate().map(Rate::hz),
        file.tick_us(),
    ];
    assert!(
        numbers.iter().flatten().all(|number| number.is_finite()),
        "{numbers:?}"
    );
    let rate = Command::SetRate(Rate::from_hz(200.0));
    for command in [Command::Start, Command::Stop, Command::Zero, rate] {
        if let Ok(bytes) = file.encode(command) {
            assert!(bytes.len() <= limits::COMMAND);
        }
    }
    let mut decoder = Decoder::new(&file);
    let mut samples = Vec::new();
    for (step, length) in [0, 1, 2, 8, 20, 64, limits::PAYLOAD]
        .into_iter()
        .enumerate()
    {
        let payload = &[0xA5; limits::PAYLOAD][..length];
        decoder.decode(Time::from_us(step as u64 * 10_000), payload, &mut samples);
        let _ = explain(&file, payload);
    }
    assert!(
        samples
            .iter()
            .all(|s| s.time.is_finite() && s.pressure.is_finite())
    );
}
