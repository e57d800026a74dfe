//! An instrument that follows a script, recorded for some seconds.

use super::*;

/// What a scripted instrument does with a question that it hears for the so-manieth time: waits in milliseconds, and texts,
/// each a line unless it ends in `~`.
pub(super) type Script = fn(&str, usize) -> Vec<(u64, &'static str)>;

/// Records an instrument that follows a script for some seconds: what the recording receives.
pub(super) fn scripted(profile: Profile, script: Script) -> Vec<Event> {
    scripted_runs(profile, [script])
}

/// The same with a script for each run, six seconds from plug to unplug.
pub(super) fn scripted_runs<const RUNS: usize>(
    profile: Profile,
    scripts: [Script; RUNS],
) -> Vec<Event> {
    let told = scripted_for(Duration::from_secs(6), profile, scripts);
    told.into_iter().map(|(_, event)| event).collect()
}

/// The same, each run of a given length; what the recording receives, and when.
pub(super) fn scripted_for<const RUNS: usize>(
    lasts: Duration,
    profile: Profile,
    scripts: [Script; RUNS],
) -> Vec<(i64, Event)> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap();
    LocalSet::new().block_on(&runtime, async move {
        let (clock, mut wire) = (Clock::of_runtime(), MemoryWire::new());
        let (events, mut inbox) = mpsc::channel(4096);
        let (stop, stopped) = watch::channel(false);
        let source = source("counter", profile, &wire, &clock);
        tokio::spawn(acquire::run(source, events, stopped));
        let now = clock.clone();
        let listening = tokio::task::spawn_local(async move {
            let mut told = Vec::new();
            while let Some(event) = inbox.recv().await {
                told.push((now.now().elapsed_us, event));
            }
            told
        });
        for (number, script) in scripts.iter().enumerate() {
            if number > 0 {
                wire.unplug().await;
                wire.plug().await;
            }
            let deadline = clock.deadline(lasts);
            let mut counts = std::collections::BTreeMap::<String, usize>::new();
            while !deadline.is_over() {
                let bytes = wire.heard(deadline.left()).await.unwrap_or_default();
                for question in String::from_utf8_lossy(&bytes).lines().map(str::trim) {
                    let count = counts.entry(question.to_owned()).or_default();
                    *count += 1;
                    for (wait_ms, text) in script(question, *count) {
                        sleep(Duration::from_millis(wait_ms)).await;
                        let text = match text.strip_suffix('~') {
                            Some(half) => half.to_owned(),
                            None => format!("{text}\n"),
                        };
                        wire.send(text.as_bytes()).await;
                    }
                }
            }
        }
        stop.send(true).unwrap();
        listening.await.unwrap()
    })
}

/// When each row was reported, and its own time, in microseconds.
pub(super) fn times(told: &[(i64, Event)]) -> Vec<(i64, i64)> {
    let rows = told.iter().filter_map(|(told_us, event)| match event {
        Event::Rows(rows, _) => Some((*told_us, rows)),
        _ => None,
    });
    rows.flat_map(|(told_us, rows)| rows.iter().map(move |row| (told_us, row.stamp.elapsed_us)))
        .collect()
}

/// Every value is its own question's, there are some, and nobody else's words are taken for who it is.
pub(super) fn assert_in_step(told: &[Event]) {
    let mut count = 0;
    for event in told {
        match event {
            Event::Rows(rows, _) => {
                for row in rows {
                    let frequency = row.readings.get(Channel::FrequencyHz);
                    let battery = row.readings.get(Channel::BatteryV);
                    assert!(
                        frequency.is_none_or(|value| (value - 6.2e6).abs() < 1e-3),
                        "{row:?}"
                    );
                    assert!(
                        battery.is_none_or(|value| (value - 9.0).abs() < 1e-9),
                        "{row:?}"
                    );
                    count += usize::from(frequency.is_some() && battery.is_some());
                }
            }
            Event::Identity { text, .. } => assert_eq!(text, "glow pillar,counter,0,1"),
            _ => {}
        }
    }
    assert!(count >= 10, "{count} whole rows: {told:?}");
}

pub(super) fn plain_answer(question: &str) -> Vec<(u64, &'static str)> {
    match question {
        "*IDN?" => vec![(1, "glow pillar,counter,0,1")],
        "*OPC?" => vec![(1, "1")],
        "SYST:ERR?" => vec![(1, "0,\"No error\"")],
        "MEAS:FREQ?" => vec![(1, "6.2E+06")],
        "MEAS:VOLT:DC?" => vec![(1, "9.0")],
        _ => Vec::new(),
    }
}

pub(super) fn without_resync() -> Profile {
    let mut profile = profile("scpi-counter");
    (profile.resync, profile.errors) = (None, None);
    profile
}
