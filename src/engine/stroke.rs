//! One compression stroke with a leak: a polytropic gas losing mass through a small hole.
//!
//! p = p₀·(m/m₀ · V₀/V)ⁿ and dm/dt = −CdA·p/√(R·T)·ψ, with ψ the nozzle function of air, choked
//! where it must be (NASA Glenn, *Mass Flow Choking*). It holds every reading against a hole in
//! mm², and says what a change of cranking speed does to a leaking cylinder.

use super::Geometry;
use super::abreast::{Course, Courses, Leaky, densest};
use super::flow::R_AIR;
use crate::units::{Pressure, Rate, Temperature};

/// Widest hole that is looked for, mm² a litre of swept volume and crank turn a second.
const WIDEST: f64 = 60.0;
/// So many holes besides are tried.
const MOST_TRIED: u32 = 60;

/// How a cylinder is compressed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compression {
    /// Volumes.
    pub geometry: Geometry,
    /// Pressure in the cylinder when compression begins, absolute.
    pub start_absolute: Pressure,
    /// Ambient pressure, absolute: what the reading is counted from.
    pub ambient_absolute: Pressure,
    /// Gas temperature when compression begins.
    pub start: Temperature,
    /// Polytropic exponent.
    pub exponent: f64,
    /// Crank speed.
    pub crank: Rate,
}

impl Compression {
    /// Highest gauge pressure with an effective leak (discharge coefficient times area) in mm².
    pub fn peak(&self, leak_mm2: f64) -> Pressure {
        let alone = peaks(&[(*self, leak_mm2)]).pop();
        alone.unwrap_or_else(|| self.tight())
    }

    /// The effective leak in mm² that makes the peak this gauge pressure: 0 where it is at or
    /// above what a tight cylinder gives, none where no hole looked for brings it so low.
    pub fn leak_mm2(&self, peak: Pressure) -> Option<f64> {
        leaks_mm2(&[(*self, peak)]).pop().flatten()
    }

    /// Highest gauge pressure without a leak.
    fn tight(&self) -> Pressure {
        self.gauge(self.geometry.effective_ratio())
    }

    /// Gauge pressure of gas squeezed this many times denser than at the start.
    fn gauge(&self, squeeze: f64) -> Pressure {
        self.start_absolute * libm::pow(squeeze.max(0.0), self.exponent) - self.ambient_absolute
    }

    /// The stroke with an effective leak in mm².
    fn leaky<'c>(&self, course: &'c Course, leak_mm2: f64) -> Leaky<'c> {
        let gas = R_AIR * self.start.kelvin();
        let full = self.start_absolute.pa() * course.start_m3 / gas;
        let per_radian = leak_mm2 * 1e-6 / (full * core::f64::consts::TAU * self.crank.hz());
        Leaky {
            course,
            fastest: per_radian * self.start_absolute.pa() / libm::sqrt(gas),
            outside: libm::log(self.ambient_absolute / self.start_absolute),
            exponent: self.exponent,
        }
    }
}

/// As [`Compression::peak`], of many: sooner done together than one by one.
pub fn peaks(strokes: &[(Compression, f64)]) -> Vec<Pressure> {
    peaks_along(&mut Courses::default(), strokes)
}

fn peaks_along(courses: &mut Courses, strokes: &[(Compression, f64)]) -> Vec<Pressure> {
    // No course is needed where nothing leaks.
    let places: Vec<Option<usize>> = strokes
        .iter()
        .map(|(own, leak)| {
            let leaks = *leak > 0.0 || leak.is_nan();
            leaks.then(|| courses.place(own.geometry))
        })
        .collect();
    let leaky: Vec<Leaky<'_>> = strokes
        .iter()
        .zip(&places)
        .filter_map(|((own, leak), place)| Some(own.leaky(courses.get((*place)?)?, *leak)))
        .collect();
    let mut squeezed = densest(&leaky).into_iter();
    strokes
        .iter()
        .zip(places)
        .map(
            |((own, _), place)| match place.and_then(|_| squeezed.next()) {
                Some(squeezed) => own.gauge(libm::exp(squeezed)),
                None => own.tight(),
            },
        )
        .collect()
}

/// As [`Compression::leak_mm2`], of many: sooner done together than one by one.
pub fn leaks_mm2(readings: &[(Compression, Pressure)]) -> Vec<Option<f64>> {
    let mut courses = Courses::default();
    let mut searches: Vec<Search> = readings
        .iter()
        .map(|(own, peak)| Search::new(*own, *peak))
        .collect();
    loop {
        let mut open: Vec<&mut Search> = searches.iter_mut().filter(|search| search.open).collect();
        if open.is_empty() {
            break;
        }
        let strokes: Vec<(Compression, f64)> = open
            .iter()
            .map(|search| (search.own, search.next))
            .collect();
        let peaks = peaks_along(&mut courses, &strokes);
        for (search, peak) in open.iter_mut().zip(peaks) {
            search.take(peak);
        }
    }
    searches.into_iter().map(|search| search.found).collect()
}

/// The search for the leak behind a reading: regula falsi on the logarithms of absolute pressures,
/// the Illinois way: the end that stays has its weight halved, so that both ends close in.
struct Search {
    own: Compression,
    reading: Pressure,
    /// Between these holes, mm², …
    low: f64,
    high: f64,
    /// … which are so far over the reading (weighted).
    at_low: f64,
    at_high: f64,
    low_moved: bool,
    /// How many holes were tried.
    tried: u32,
    /// The hole to try next.
    next: f64,
    /// The search is not over.
    open: bool,
    /// What it came to.
    found: Option<f64>,
}

impl Search {
    fn new(own: Compression, reading: Pressure) -> Self {
        let litre_hz = own.geometry.swept_m3 * 1e3 * own.crank.hz();
        let tight = own.tight();
        let mut search = Self {
            own,
            reading,
            low: 0.0,
            high: WIDEST * litre_hz,
            at_low: 0.0,
            at_high: 0.0,
            low_moved: true,
            tried: 0,
            next: WIDEST * litre_hz,
            open: true,
            found: None,
        };
        search.at_low = search.over(tight);
        if reading >= tight {
            search.end(Some(0.0));
        } else if !litre_hz.is_finite() {
            search.end(None);
        }
        search
    }

    fn end(&mut self, found: Option<f64>) {
        (self.open, self.found) = (false, found);
    }

    /// How far a peak is over the reading.
    fn over(&self, peak: Pressure) -> f64 {
        let log = |gauge: Pressure| libm::log((gauge + self.own.ambient_absolute).pa());
        log(peak) - log(self.reading)
    }

    /// Takes the peak with the hole that was to be tried.
    fn take(&mut self, peak: Pressure) {
        let (next, value) = (self.next, self.over(peak));
        if self.tried == 0 {
            // The widest.
            if peak > self.reading {
                self.end(None);
            }
            self.at_high = value;
        } else if value.abs() < 1e-7 || self.high - self.low < 1e-9 * self.high {
            self.end(Some(next));
        } else if value > 0.0 {
            (self.low, self.at_low) = (next, value);
            if self.low_moved {
                self.at_high *= 0.5;
            }
            self.low_moved = true;
        } else {
            (self.high, self.at_high) = (next, value);
            if !self.low_moved {
                self.at_low *= 0.5;
            }
            self.low_moved = false;
        }
        if self.tried == MOST_TRIED && self.open {
            self.end(Some(0.5 * (self.low + self.high)));
        }
        self.tried += 1;
        self.next =
            (self.low * self.at_high - self.high * self.at_low) / (self.at_high - self.at_low);
    }
}
