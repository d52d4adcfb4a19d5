//! Words that outlive a reset: every clone is the same memory.

use std::cell::Cell;
use std::rc::Rc;

use crate::resets::Retained;

#[derive(Clone, Debug, Default)]
pub(crate) struct Scratch(Rc<Cell<[u32; 4]>>);

impl Scratch {
    pub(crate) fn with(words: [u32; 4]) -> Self {
        Self(Rc::new(Cell::new(words)))
    }
}

impl Retained for Scratch {
    fn load(&mut self) -> [u32; 4] {
        self.0.get()
    }
    fn store(&mut self, place: usize, word: u32) {
        let mut words = self.0.get();
        words[place] = word;
        self.0.set(words);
    }
}
