//! An instrument that is overheard.

use std::sync::{Arc, Mutex};

use sagtrace::bench::Instrument;
use sagtrace::bench::world::World;

/// An instrument whose every heard byte is noted, with a line for each opening.
#[derive(Debug)]
pub(crate) struct Noted<I> {
    pub(crate) inner: I,
    pub(crate) heard: Arc<Mutex<Vec<u8>>>,
}

impl<I: Instrument> Instrument for Noted<I> {
    fn opened(&mut self) -> Vec<Vec<u8>> {
        self.heard.lock().unwrap().extend(b"OPENED");
        self.inner.opened()
    }

    fn hear(&mut self, bytes: &[u8], world: &World, elapsed_s: f64) -> Vec<Vec<u8>> {
        self.heard.lock().unwrap().extend(bytes);
        self.inner.hear(bytes, world, elapsed_s)
    }

    fn due_s(&self) -> Option<f64> {
        self.inner.due_s()
    }

    fn speak(&mut self, world: &World) -> Vec<u8> {
        self.inner.speak(world)
    }
}
