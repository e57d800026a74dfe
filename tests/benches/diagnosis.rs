//! What the library of a build costs, as it is computed the first time on two threads: beside the plain verdicts of as many circuits
//! in the same run.

use std::hint::black_box;
use std::sync::Mutex;
use std::thread;

use sagtrace::circuit::rest::Rest;
use sagtrace::clock::Clock;
use sagtrace::coil::predict::predict;
use sagtrace::diagnosis::answer::Answer;
use sagtrace::diagnosis::build::Build;
use sagtrace::diagnosis::evidence::Evidence;
use sagtrace::diagnosis::library::{Effort, Library, Shown};
use sagtrace::diagnosis::priors::Priors;
use sagtrace::sheet;

fn timed_s<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let clock = Clock::real();
    let done = work();
    (done, clock.elapsed_s())
}

fn library(build: &Build) -> Library {
    let wanted = Library::wanted(build);
    let queue = Mutex::new((0..wanted.len()).collect::<Vec<_>>());
    let done: Mutex<Vec<(usize, Shown)>> = Mutex::new(Vec::new());
    thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let next = queue.lock().expect("the queue").pop();
                    let Some(index) = next else { break };
                    let shown = Library::shown(build, wanted[index], Effort::USUAL);
                    done.lock().expect("the list").push((index, shown));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("the list");
    done.sort_by_key(|(index, _)| *index);
    Library::of(done.into_iter().map(|(_, shown)| shown).collect())
}

fn main() {
    let medium = include_str!("../scenarios/pillar-medium.toml");
    let small = medium.replace("transistor = \"medium\"", "transistor = \"small-signal\"");
    for (name, text) in [
        ("small", small.as_str()),
        ("medium", medium),
        ("TO-220", include_str!("../scenarios/pillar-standing.toml")),
    ] {
        let sheet = sheet::parse(text).expect("a sheet");
        let prediction = predict(&sheet.coil_spec()).expect("a prediction");
        let sets = sheet.circuit_sets(&prediction).expect("a circuit");
        let turns = (sheet.turns(), f64::from(sheet.primary.turns));
        let floats = sheet.earth.is_floating();
        let build = Build::new(&sets.specs, &sets.drawn, &prediction, floats, turns);
        let (library, whole_s) = timed_s(|| library(&build));
        let draws = library.shown.len() * Effort::USUAL.draws as usize;
        let spec = build.drawn(0).sound;
        let ((), verdicts_s) = timed_s(|| {
            for _ in 0..draws {
                black_box(Rest::of(black_box(&spec)).expect("a verdict"));
            }
        });
        let priors = Priors::shipped().expect("the shipped priors");
        let (_, answer_s) = timed_s(|| Answer::of(&library, &priors, &Evidence::default()));
        println!(
            "{name}: {} faults, {draws} draws in {whole_s:.1} s on two threads, {:.1} times as many plain verdicts on one \
             ({verdicts_s:.1} s); an answer {answer_s:.2} s",
            library.shown.len(),
            whole_s / verdicts_s
        );
    }
}
