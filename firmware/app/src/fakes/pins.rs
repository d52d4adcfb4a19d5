//! Output pins that remember every level, fail at a chosen call, or stick.

use core::cell::RefCell;
use embedded_hal::digital::{Error, ErrorKind, ErrorType, InputPin, OutputPin, StatefulOutputPin};
use std::rc::Rc;
use std::vec;
use std::vec::Vec;

#[derive(Debug)]
struct Inner {
    levels: Vec<bool>,
    history: Vec<Vec<bool>>,
    stuck: Vec<bool>,
    until_failure: Option<u32>,
    failed: bool,
}

impl Inner {
    fn call(&mut self) -> Result<(), Refused> {
        match self.until_failure.as_mut() {
            Some(0) => {
                self.until_failure = None;
                self.failed = true;
                Err(Refused)
            }
            Some(n) => {
                *n -= 1;
                Ok(())
            }
            None => Ok(()),
        }
    }
}

/// All pins of one board.
#[derive(Clone, Debug)]
pub(crate) struct PinWorld(Rc<RefCell<Inner>>);

/// One pin.
#[derive(Clone, Debug)]
pub(crate) struct Pin {
    world: PinWorld,
    n: usize,
}

#[derive(Debug)]
pub(crate) struct Refused;

impl Error for Refused {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

impl PinWorld {
    pub(crate) fn new(pins: usize) -> Self {
        Self(Rc::new(RefCell::new(Inner {
            levels: vec![false; pins],
            history: Vec::new(),
            stuck: vec![false; pins],
            until_failure: None,
            failed: false,
        })))
    }

    pub(crate) fn pin(&self, n: usize) -> Pin {
        Pin {
            world: self.clone(),
            n,
        }
    }

    pub(crate) fn levels(&self) -> Vec<bool> {
        self.0.borrow().levels.clone()
    }

    pub(crate) fn history(&self) -> Vec<Vec<bool>> {
        self.0.borrow().history.clone()
    }

    /// The `n`th call from now fails, once.
    pub(crate) fn fail_call(&self, n: u32) {
        self.0.borrow_mut().until_failure = Some(n);
    }

    pub(crate) fn failed(&self) -> bool {
        self.0.borrow().failed
    }

    /// This pin keeps its level whatever is written.
    pub(crate) fn stick(&self, n: usize) {
        self.0.borrow_mut().stuck[n] = true;
    }
}

impl Pin {
    fn put(&mut self, high: bool) -> Result<(), Refused> {
        let mut inner = self.world.0.borrow_mut();
        inner.call()?;
        if !inner.stuck[self.n] {
            inner.levels[self.n] = high;
        }
        let levels = inner.levels.clone();
        inner.history.push(levels);
        Ok(())
    }

    fn level(&self) -> Result<bool, Refused> {
        let mut inner = self.world.0.borrow_mut();
        inner.call()?;
        Ok(inner.levels[self.n])
    }
}

impl ErrorType for Pin {
    type Error = Refused;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Refused> {
        self.put(false)
    }
    fn set_high(&mut self) -> Result<(), Refused> {
        self.put(true)
    }
}

impl StatefulOutputPin for Pin {
    fn is_set_high(&mut self) -> Result<bool, Refused> {
        self.level()
    }
    fn is_set_low(&mut self) -> Result<bool, Refused> {
        self.level().map(|high| !high)
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Refused> {
        self.level()
    }
    fn is_low(&mut self) -> Result<bool, Refused> {
        self.level().map(|high| !high)
    }
}
