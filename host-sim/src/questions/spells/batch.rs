//! Many spells or winters on all cores, their results in the order of their numbers.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Runs `work` for every number on so many cores (0: all), and gives the results to `take` in the numbers' order as
/// they come. The first error of either ends everything; results that came before it in order have been taken.
///
/// # Errors
/// What `work` or `take` returns.
pub fn in_order<T: Send, E: Send>(
    numbers: &[u64],
    cores: usize,
    work: impl Fn(u64) -> Result<T, E> + Sync,
    take: impl FnMut(T) -> Result<(), E> + Send,
) -> Result<(), E> {
    let all = std::thread::available_parallelism().map_or(1, usize::from);
    let cores = if cores == 0 { all } else { cores };
    let next = AtomicUsize::new(0);
    let line = Mutex::new(Line {
        next: 0,
        waiting: BTreeMap::new(),
        take,
        failed: None,
    });
    let one_by_one = || {
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(number) = numbers.get(index) else {
                return;
            };
            let result = work(*number);
            let Ok(mut line) = line.lock() else { return };
            if !line.put(index, result) {
                return;
            }
        }
    };
    match cores.min(numbers.len()) {
        // Not every machine has threads.
        0 | 1 => one_by_one(),
        threads => std::thread::scope(|scope| {
            for _ in 0..threads {
                scope.spawn(one_by_one);
            }
        }),
    }
    let line = line
        .into_inner()
        .unwrap_or_else(std::sync::PoisonError::into_inner);
    line.failed.map_or(Ok(()), Err)
}

/// Results that wait for those before them.
struct Line<T, E, F> {
    next: usize,
    waiting: BTreeMap<usize, T>,
    take: F,
    failed: Option<E>,
}

impl<T, E, F: FnMut(T) -> Result<(), E>> Line<T, E, F> {
    /// Whether to go on.
    fn put(&mut self, index: usize, result: Result<T, E>) -> bool {
        if self.failed.is_some() {
            return false;
        }
        let taken = result.and_then(|result| {
            self.waiting.insert(index, result);
            while let Some(result) = self.waiting.remove(&self.next) {
                self.next += 1;
                (self.take)(result)?;
            }
            Ok(())
        });
        self.failed = taken.err();
        self.failed.is_none()
    }
}
