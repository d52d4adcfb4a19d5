//! Curves of bounded length that lose no extreme.
//!
//! Time is cut into equal bins; each keeps its coldest and warmest value and which came first. When
//! the bins run out, neighbours are merged in pairs and a bin covers twice the time.

use controller_core::units::Celsius;

/// What a curve shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CurveName {
    /// Slab, checked reading.
    Slab,
    /// Supply, checked reading.
    Supply,
    /// Return, checked reading.
    Return,
    /// Outdoor, checked reading.
    Outdoor,
    /// Outdoor mean.
    OutdoorMean,
    /// Store as the controller remembers it, once measured.
    StoreEstimate,
    /// House air.
    Air,
    /// Store by a sensor of its own or the model.
    Store,
}

impl CurveName {
    /// All, in the order they are recorded.
    pub const ALL: [Self; 8] = [
        Self::Slab,
        Self::Supply,
        Self::Return,
        Self::Outdoor,
        Self::OutdoorMean,
        Self::StoreEstimate,
        Self::Air,
        Self::Store,
    ];

    /// The word in legends.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Slab => "slab",
            Self::Supply => "supply",
            Self::Return => "return",
            Self::Outdoor => "outdoor",
            Self::OutdoorMean => "outdoor mean",
            Self::StoreEstimate => "store, as remembered",
            Self::Air => "house air",
            Self::Store => "store",
        }
    }
}

/// A finished curve.
#[derive(Clone, Debug)]
pub struct Curve {
    /// What it shows.
    pub name: CurveName,
    /// Time a bin covers, ms.
    pub bin_ms: u64,
    bins: Vec<Bin>,
}

impl Curve {
    /// Has it no point at all?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.bins.iter().all(|bin| bin.is_empty())
    }

    /// Two values a bin in order of time, °C: extremes, or `None` where nothing is known. The first
    /// belongs a quarter into its bin, the second three quarters.
    pub fn points_c(&self) -> impl Iterator<Item = Option<f64>> {
        self.bins.iter().flat_map(|bin| bin.points())
    }

    /// The same with their times, ms since the first row.
    pub fn timed_c(&self) -> impl Iterator<Item = (u64, Option<f64>)> {
        let half = self.bin_ms / 2;
        (0..).zip(self.points_c()).map(move |(n, point)| {
            let into_bin = half / 2;
            (n * half + into_bin, point)
        })
    }

    /// Coldest and warmest from one time to just before another, °C.
    #[must_use]
    pub fn extremes_c(&self, from_ms: u64, until_ms: u64) -> Option<(f64, f64)> {
        let half = (self.bin_ms / 2).max(1);
        let skipped = usize::try_from(from_ms / half).unwrap_or(usize::MAX);
        self.timed_c()
            .skip(skipped.saturating_sub(2))
            .skip_while(|(ms, _)| *ms < from_ms)
            .take_while(|(ms, _)| *ms < until_ms)
            .filter_map(|(_, point)| point)
            .fold(None, |seen, c| match seen {
                None => Some((c, c)),
                Some((low, high)) => Some((low.min(c), high.max(c))),
            })
    }
}

/// A value to record: 1/65536 K, if known.
#[derive(Clone, Copy, Debug)]
pub(super) struct Value(Option<i32>);

impl Value {
    pub(super) fn point(value: Option<Celsius>) -> Self {
        Self(value.map(Celsius::to_bits))
    }

    /// A model's number, °C; one that is no temperature is unknown.
    pub(super) fn number(value: Option<f64>) -> Self {
        Self(
            value
                .filter(|v| v.abs() < 30_000.0)
                .map(|v| (v * 65_536.0) as i32),
        )
    }
}

#[derive(Clone, Copy, Debug)]
struct Bin {
    low: i32,
    high: i32,
    low_first: bool,
}

impl Bin {
    const EMPTY: Self = Self {
        low: i32::MAX,
        high: i32::MIN,
        low_first: true,
    };

    const fn is_empty(self) -> bool {
        self.low > self.high
    }

    fn add(&mut self, value: i32) {
        if value < self.low {
            self.low = value;
            self.low_first = false;
        }
        if value > self.high {
            self.low_first = self.high != i32::MIN || self.low == value;
            self.high = value;
        }
    }

    /// This bin and the one after it.
    fn merged(self, later: Self) -> Self {
        if self.is_empty() {
            return later;
        }
        if later.is_empty() {
            return self;
        }
        let low_is_later = later.low < self.low;
        let high_is_later = later.high > self.high;
        Self {
            low: self.low.min(later.low),
            high: self.high.max(later.high),
            low_first: match (low_is_later, high_is_later) {
                (false, true) => true,
                (true, false) => false,
                (false, false) => self.low_first,
                (true, true) => later.low_first,
            },
        }
    }

    fn points(self) -> [Option<f64>; 2] {
        if self.is_empty() {
            return [None, None];
        }
        let [low, high] = [self.low, self.high].map(|v| Some(f64::from(v) / 65_536.0));
        if self.low_first {
            [low, high]
        } else {
            [high, low]
        }
    }
}

const CURVES: usize = CurveName::ALL.len();

/// All curves of a run, on one time base.
#[derive(Clone, Debug)]
pub(super) struct Curves {
    most: usize,
    bin_ms: u64,
    /// The bin written last and its end.
    last: usize,
    last_end_ms: u64,
    bins: Vec<[Bin; CURVES]>,
}

impl Curves {
    pub(super) fn new(most: usize, expected_ms: Option<u64>) -> Self {
        let most = most.max(2);
        let bin_ms = expected_ms.map_or(1, |ms| ms / most as u64 + 1).max(1_000);
        Self {
            most,
            bin_ms,
            last: 0,
            last_end_ms: bin_ms,
            bins: vec![[Bin::EMPTY; CURVES]],
        }
    }

    /// Values that stand from `start_ms` to just before `end_ms`; time must not go back.
    pub(super) fn push(&mut self, start_ms: u64, end_ms: u64, values: &[Value; CURVES]) {
        self.go_to(start_ms);
        self.add(values);
        while self.last_end_ms < end_ms {
            self.go_to(self.last_end_ms);
            self.add(values);
        }
    }

    fn add(&mut self, values: &[Value; CURVES]) {
        for (bin, value) in self.bins[self.last].iter_mut().zip(values) {
            if let Value(Some(value)) = value {
                bin.add(*value);
            }
        }
    }

    fn go_to(&mut self, time_ms: u64) {
        if time_ms < self.last_end_ms {
            return;
        }
        while time_ms / self.bin_ms >= self.most as u64 {
            self.merge();
        }
        self.last = usize::try_from(time_ms / self.bin_ms).unwrap_or(0);
        self.last_end_ms = (self.last as u64 + 1) * self.bin_ms;
        if self.bins.len() <= self.last {
            self.bins.resize(self.last + 1, [Bin::EMPTY; CURVES]);
        }
    }

    fn merge(&mut self) {
        let half = self.bins.len().div_ceil(2);
        for i in 0..half {
            let mut first = self.bins[2 * i];
            if let Some(second) = self.bins.get(2 * i + 1) {
                for (one, other) in first.iter_mut().zip(second) {
                    *one = one.merged(*other);
                }
            }
            self.bins[i] = first;
        }
        self.bins.truncate(half);
        self.bin_ms = self.bin_ms.saturating_mul(2);
    }

    pub(super) fn finish(self) -> Vec<Curve> {
        CurveName::ALL
            .into_iter()
            .enumerate()
            .map(|(i, name)| Curve {
                name,
                bin_ms: self.bin_ms,
                bins: self.bins.iter().map(|bins| bins[i]).collect(),
            })
            .collect()
    }
}
