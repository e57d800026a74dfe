//! The sessions of a battery taken together: its full runs, how they change, and whether it is due for replacement.

use chrono::DateTime;

use super::finished::Start;
use super::kind::Kind;
use super::last_run;
use super::peukert::Peukert;

/// A battery whose last full run gave less than this share of its best is due. Common practice for cells, no source.
const DUE_SHARE: f64 = 0.8;
/// One whose resistance is more than this many times its least is due. Chosen.
const DUE_RESISTANCE: f64 = 2.0;

/// Where the coil of a run stopped, and did so again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// Time under load, in seconds.
    pub running_s: f64,
    /// The battery's voltage, in volts.
    pub volts_v: f64,
}

/// The values of one session for its battery.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Name of the session folder.
    pub folder: String,
    /// When it began, RFC 3339 in UTC.
    pub started: String,
    /// Label of the battery.
    pub battery: String,
    /// Its kind; `None` where no sheet says.
    pub kind: Option<Kind>,
    /// How many stand in series.
    pub series: u32,
    /// Charge printed on one, in ampere hours.
    pub rated_ah: Option<f64>,
    /// How it was at the start.
    pub start: Start,
    /// Whether the data are invented.
    pub simulated: bool,
    /// Whether the recording was closed.
    pub closed: bool,
    /// The voltage at which it counts as empty, in volts for all in series.
    pub end_v: Option<f64>,
    /// Time under load, in seconds.
    pub running_s: f64,
    /// Time under load when it came to its end, in seconds; `None` if it was stopped before.
    pub reached_s: Option<f64>,
    /// The end that was asked for, in volts; `None` where it is the kind's.
    pub asked_v: Option<f64>,
    /// Name of the build that it ran; `None` without a sheet.
    pub build: Option<String>,
    /// The coil's repeated stop at which it ended.
    pub stopped: Option<Stop>,
    /// First voltage under load, in volts.
    pub first_v: Option<f64>,
    /// Last voltage under load, in volts.
    pub last_v: Option<f64>,
    /// Lowest voltage, in volts.
    pub least_v: Option<f64>,
    /// Charge up to the end, in ampere hours.
    pub charge_ah: Option<f64>,
    /// Energy up to the end, in Wh.
    pub energy_wh: Option<f64>,
    /// Mean current, in amperes.
    pub current_a: Option<f64>,
    /// Whether that is estimated.
    pub estimated: bool,
    /// Time in gaps, which charge and energy leave out, in seconds.
    pub missing_s: f64,
    /// Resistance at which the load went off, in ohms.
    pub resistance_ohm: Option<f64>,
    /// Seconds from then to the reading.
    pub pulse_s: Option<f64>,
}

/// A run that is over sooner did not begin full, in seconds. Chosen: no battery that lights a coil is emptied in a minute.
const LEAST_RUN_S: f64 = 60.0;
/// Sessions of one battery that began within this time are copies of one session, in milliseconds. Chosen: a battery is in one
/// coil at a time. The log of a session that is played again may have begun a little earlier than the session.
const ONE_START_MS: i64 = 1000;

impl Entry {
    /// Returns the time under load when it came to its end or the coil stopped for good, in seconds; `None` if it was ended
    /// before.
    pub fn ended_s(&self) -> Option<f64> {
        self.reached_s
            .or_else(|| self.stopped.map(|stop| stop.running_s))
    }

    /// Returns how long a run from full to the end, or to the coil's stop, lasted, in seconds; `None` for any other, which is
    /// only a lower bound.
    pub fn full_s(&self) -> Option<f64> {
        self.ended_s()
            .filter(|_| self.start == Start::Full && !self.is_empty_from_the_start())
    }

    /// Whether it stood at its end from the first moments on, so that the run says nothing of how long it lasts.
    pub fn is_empty_from_the_start(&self) -> bool {
        self.ended_s().is_some_and(|run_s| run_s < LEAST_RUN_S)
    }

    /// Whether it is of the session that began then (RFC 3339): that session's folder, or its mended, copied or replayed twin.
    pub fn is_of_session(&self, started: &str) -> bool {
        let began_ms = |text: &str| {
            let began = DateTime::parse_from_rfc3339(text).ok()?;
            Some(began.timestamp_millis())
        };
        match (began_ms(&self.started), began_ms(started)) {
            (Some(a_ms), Some(b_ms)) => (a_ms - b_ms).abs() < ONE_START_MS,
            _ => self.started == started,
        }
    }

    /// Whether this twin says less than the other. The closed one says more, then the one with more time and fewer gaps.
    fn says_less_than(&self, other: &Self) -> bool {
        let worth = |one: &Self| (one.closed, one.running_s - one.missing_s);
        worth(self) < worth(other)
    }

    /// Returns the charge of a run from full to the end without gaps, in ampere hours.
    pub fn full_ah(&self) -> Option<f64> {
        self.charge_ah
            .filter(|_| self.full_s().is_some() && self.missing_s <= 0.0)
    }
}

/// Why a battery is due for replacement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Due {
    /// It gives this share of its best full run.
    GivesLess(f64),
    /// Its resistance, as a multiple of its least.
    Resists(f64),
}

/// All sessions of one battery, oldest first. Invented ones are a logbook of their own: they predict nothing of a real battery.
#[derive(Debug, Clone, PartialEq)]
pub struct Logbook {
    /// Its label.
    pub battery: String,
    /// Whether its sessions are invented.
    pub is_simulated: bool,
    /// The values of the sessions; never empty.
    pub entries: Vec<Entry>,
}

impl Logbook {
    /// Sorts entries by battery and time. A session that is there twice, mended or copied, counts once.
    pub fn by_battery(mut entries: Vec<Entry>) -> Vec<Self> {
        entries.sort_by(|a, b| {
            (&a.battery, a.simulated, &a.started).cmp(&(&b.battery, b.simulated, &b.started))
        });
        let books = entries.chunk_by(|a, b| (&a.battery, a.simulated) == (&b.battery, b.simulated));
        books
            .filter_map(|one| {
                let first = one.first()?;
                Some(Self {
                    battery: first.battery.clone(),
                    is_simulated: first.simulated,
                    entries: without_twins(one),
                })
            })
            .collect()
    }

    /// Returns the last session.
    pub fn last(&self) -> Option<&Entry> {
        self.entries.last()
    }

    /// Returns the kind, as the last session that knows says.
    pub fn kind(&self) -> Option<Kind> {
        self.entries.iter().rev().find_map(|entry| entry.kind)
    }

    /// Returns the full runs, oldest first. One that the coil's stop ended counts for the build of the last session alone.
    pub fn full_runs(&self) -> impl Iterator<Item = &Entry> {
        let build = self.last().and_then(|last| last.build.as_ref());
        self.entries.iter().filter(move |one| {
            let is_of_build = one.build.is_some() && one.build.as_ref() == build;
            one.full_s().is_some() && (one.reached_s.is_some() || is_of_build)
        })
    }

    /// Returns the lengths of the full runs, in seconds.
    pub fn full_runs_s(&self) -> Vec<f64> {
        self.full_runs().filter_map(Entry::full_s).collect()
    }

    /// Returns the voltage at which the coil of a build stopped with this battery, in volts, and in how many runs; `None` if it
    /// never stopped repeatedly.
    pub fn own_stops(&self, build: Option<&str>) -> Option<(f64, usize)> {
        let of_build = self
            .entries
            .iter()
            .filter(|one| one.build.is_some() && one.build.as_deref() == build);
        let mut volts: Vec<f64> = of_build
            .filter_map(|one| one.stopped.map(|stop| stop.volts_v))
            .collect();
        volts.sort_by(f64::total_cmp);
        Some((*volts.get(volts.len() / 2)?, volts.len()))
    }

    /// Returns the longest run that was stopped early, in seconds: the battery lasts at least as long. Nobody saw the coil run
    /// where readings are missing.
    pub fn lower_bound_s(&self) -> Option<f64> {
        let early = self.entries.iter().filter(|one| one.ended_s().is_none());
        early
            .map(|one| one.running_s - one.missing_s)
            .max_by(f64::total_cmp)
    }

    /// Returns the foot, middle and top of the next full run, in seconds.
    pub fn next_run_s(&self) -> Option<(f64, f64, f64)> {
        last_run::band(&self.full_runs_s())
    }

    /// Returns the last full charge over the first, less one.
    pub fn charge_trend(&self) -> Option<f64> {
        trend(self.entries.iter().filter_map(Entry::full_ah))
    }

    /// Returns the last resistance over the first, less one.
    pub fn resistance_trend(&self) -> Option<f64> {
        trend(self.entries.iter().filter_map(|one| one.resistance_ohm))
    }

    /// Whether it is due for replacement, and why.
    pub fn due(&self) -> Option<Due> {
        let charges: Vec<f64> = self.entries.iter().filter_map(Entry::full_ah).collect();
        let best_ah = charges.iter().copied().max_by(f64::total_cmp);
        if let (Some(last_ah), Some(best_ah)) = (charges.last(), best_ah)
            && *last_ah < DUE_SHARE * best_ah
        {
            return Some(Due::GivesLess(last_ah / best_ah));
        }
        let ohms: Vec<f64> = self
            .entries
            .iter()
            .filter_map(|one| one.resistance_ohm)
            .collect();
        let least_ohm = ohms.iter().copied().min_by(f64::total_cmp)?;
        let last_ohm = *ohms.last()?;
        (last_ohm > DUE_RESISTANCE * least_ohm).then(|| Due::Resists(last_ohm / least_ohm))
    }

    /// Returns Peukert's law through the full runs at the least and the greatest current; `None` where they lie too near.
    pub fn peukert(&self) -> Option<Peukert> {
        let runs = self
            .entries
            .iter()
            .filter_map(|one| Some((one.current_a?, one.full_ah()?)));
        let mut runs: Vec<(f64, f64)> = runs.collect();
        runs.sort_by(|a, b| a.0.total_cmp(&b.0));
        Peukert::through(*runs.first()?, *runs.last()?)
    }
}

/// Returns the entries of one battery in their order, of twins the one that says most.
fn without_twins(entries: &[Entry]) -> Vec<Entry> {
    let mut kept: Vec<Entry> = Vec::new();
    for entry in entries {
        match kept
            .last_mut()
            .filter(|last| last.is_of_session(&entry.started))
        {
            Some(last) if last.says_less_than(entry) => *last = entry.clone(),
            Some(_) => {}
            None => kept.push(entry.clone()),
        }
    }
    kept
}

fn trend(values: impl Iterator<Item = f64>) -> Option<f64> {
    let values: Vec<f64> = values.collect();
    match values.as_slice() {
        [first, .., last] => Some(last / first - 1.0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented session of the battery N2: how it began, minutes under load, whether it came to its end, and milliampere
    /// hours.
    fn entry(day: u32, start: Start, minutes: f64, ended: bool, mah: f64) -> Entry {
        Entry {
            folder: format!("2026010{day}T190000Z-glow-pillar"),
            started: format!("2026-01-0{day}T19:00:00.000Z"),
            battery: "N2".to_owned(),
            kind: Some(Kind::Nimh7),
            series: 1,
            rated_ah: Some(0.2),
            start,
            simulated: false,
            closed: true,
            end_v: Some(7.0),
            running_s: 60.0 * minutes,
            reached_s: ended.then_some(60.0 * minutes),
            asked_v: None,
            build: Some("glow pillar".to_owned()),
            stopped: None,
            first_v: Some(9.0),
            last_v: Some(7.0),
            least_v: Some(7.0),
            charge_ah: Some(mah / 1000.0),
            energy_wh: Some(8.0 * mah / 1000.0),
            current_a: Some(mah / 1000.0 / (minutes / 60.0)),
            estimated: false,
            missing_s: 0.0,
            resistance_ohm: Some(1.5),
            pulse_s: Some(1.0),
        }
    }

    fn logbook(entries: Vec<Entry>) -> Logbook {
        Logbook::by_battery(entries).remove(0)
    }

    #[test]
    fn only_runs_from_full_to_the_end_are_full_and_a_stopped_one_is_a_lower_bound() {
        let book = logbook(vec![
            entry(3, Start::Full, 20.0, false, 100.0),
            entry(1, Start::Full, 40.0, true, 200.0),
            entry(2, Start::Unknown, 30.0, true, 150.0),
        ]);
        assert_eq!(book.full_runs_s(), [2400.0]);
        assert_eq!(book.lower_bound_s(), Some(1200.0));
        assert_eq!(book.entries[2].running_s.to_bits(), 1200.0_f64.to_bits());
    }

    #[test]
    fn a_run_that_the_coils_stop_ended_is_a_full_one_with_this_build_alone() {
        let mut stopped = entry(1, Start::Full, 35.0, false, 180.0);
        stopped.stopped = Some(Stop {
            running_s: 2040.0,
            volts_v: 7.6,
        });
        let later = entry(2, Start::Full, 5.0, false, 25.0);
        let book = logbook(vec![stopped.clone(), later.clone()]);
        assert_eq!(book.full_runs_s(), [2040.0]);
        assert_eq!(book.own_stops(Some("glow pillar")), Some((7.6, 1)));
        assert_eq!(book.own_stops(Some("another")), None);
        let other = Entry {
            build: Some("another".to_owned()),
            ..later
        };
        assert!(logbook(vec![stopped, other]).full_runs_s().is_empty());
    }

    #[test]
    fn a_battery_that_gives_much_less_than_it_did_is_due() {
        let give = |mah| {
            logbook(vec![
                entry(1, Start::Full, 40.0, true, 200.0),
                entry(2, Start::Full, 40.0, true, mah),
            ])
        };
        assert_eq!(give(125.0).due(), Some(Due::GivesLess(0.625)));
        assert_eq!(give(190.0).due(), None);
        assert!((give(150.0).charge_trend().unwrap() + 0.25).abs() < 1e-12);
    }

    #[test]
    fn a_battery_whose_resistance_has_more_than_doubled_is_due() {
        let mut late = entry(2, Start::Unknown, 10.0, false, 50.0);
        late.resistance_ohm = Some(4.5);
        let book = logbook(vec![entry(1, Start::Full, 40.0, true, 200.0), late]);
        assert_eq!(book.due(), Some(Due::Resists(3.0)));
    }

    #[test]
    fn a_run_with_a_gap_tells_time_and_no_charge() {
        let mut torn = entry(1, Start::Full, 40.0, true, 200.0);
        torn.missing_s = 30.0;
        assert_eq!((torn.full_s(), torn.full_ah()), (Some(2400.0), None));
    }

    #[test]
    fn a_battery_below_its_end_from_the_first_row_made_no_full_run() {
        let mut empty = entry(2, Start::Full, 0.0, true, 0.0);
        empty.first_v = Some(6.8);
        let book = logbook(vec![entry(1, Start::Full, 40.0, true, 200.0), empty]);
        assert_eq!(book.full_runs_s(), [2400.0]);
        assert_eq!(book.lower_bound_s(), None, "nor is there a lower bound");
        assert_eq!(book.due(), None);
    }

    #[test]
    fn a_mended_or_copied_session_counts_once_and_the_whole_one_is_kept() {
        let torn = Entry {
            closed: false,
            ..entry(1, Start::Full, 39.0, true, 195.0)
        };
        let mended = Entry {
            folder: format!("{}.mended", torn.folder),
            closed: true,
            ..torn.clone()
        };
        // The byte log of it, played again, began a little earlier.
        let replayed = Entry {
            folder: "again".to_owned(),
            started: "2026-01-01T18:59:59.990Z".to_owned(),
            closed: true,
            running_s: 38.0 * 60.0,
            ..torn.clone()
        };
        let other = entry(2, Start::Full, 40.0, true, 200.0);
        let book = logbook(vec![torn, mended.clone(), other.clone(), replayed]);
        assert_eq!(book.entries, [mended, other]);
    }

    #[test]
    fn an_invented_run_foretells_no_real_battery_of_the_same_label() {
        let invented = Entry {
            simulated: true,
            ..entry(2, Start::Full, 2.0, true, 10.0)
        };
        let real = entry(1, Start::Full, 40.0, true, 200.0);
        let books = Logbook::by_battery(vec![invented, real]);
        let told: Vec<(bool, Vec<f64>)> = books
            .iter()
            .map(|book| (book.is_simulated, book.full_runs_s()))
            .collect();
        assert_eq!(told, [(false, vec![2400.0]), (true, vec![120.0])]);
    }

    #[test]
    fn runs_at_two_currents_give_an_exponent() {
        let book = logbook(vec![
            entry(1, Start::Full, 270.0, true, 450.0),
            entry(2, Start::Full, 39.6, true, 330.0),
        ]);
        assert!((book.peukert().unwrap().k - 1.1927).abs() < 5e-5);
    }
}
