//! A straight line through observations of unequal weight (least squares; GUM, JCGM 100:2008,
//! annex H.3, where all weights are equal).

/// What was observed at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// Where.
    pub x: f64,
    /// What.
    pub y: f64,
    /// Variance of `y`; its inverse is the weight. More than zero.
    pub variance: f64,
}

/// The line `y = intercept + slope × x`.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// At `x` = 0.
    pub intercept: f64,
    /// Per unit of `x`.
    pub slope: f64,
    /// Variances of intercept and slope, and their covariance, as the observations' variances make
    /// them.
    pub variances: [f64; 3],
    /// Mean square of the residuals, each over its observation's variance, with n − 2 degrees of
    /// freedom: 1 where they scatter as their variances say. None for two observations.
    pub scatter: Option<f64>,
    /// By how much an error of each observation moves intercept and slope.
    pub sensitivities: Vec<(f64, f64)>,
}

impl Line {
    /// The line at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Standard uncertainty of the line at `x` (GUM H.3.4, equation H.15).
    pub fn standard_at(&self, x: f64) -> f64 {
        let [intercept, slope, both] = self.variances;
        (intercept + x * x * slope + 2.0 * x * both).max(0.0).sqrt()
    }

    /// Correlation of intercept and slope.
    pub fn correlation(&self) -> f64 {
        let [intercept, slope, both] = self.variances;
        both / (intercept * slope).sqrt()
    }

    /// The same line, its uncertainty taken from how the observations scatter (GUM H.3.2), where
    /// more than two are known.
    #[must_use]
    pub fn by_scatter(mut self) -> Self {
        let scatter = self.scatter.unwrap_or(1.0);
        self.variances = self.variances.map(|variance| variance * scatter);
        self
    }
}

/// Fits the line. None where there are fewer than two places, or numbers that are none.
pub fn fit(observations: &[Observation]) -> Option<Line> {
    let sum = |of: &dyn Fn(&Observation) -> f64| -> f64 {
        observations.iter().map(|o| of(o) / o.variance).sum()
    };
    let weight = sum(&|_| 1.0);
    // From the centre of gravity the two sums do not cancel each other's digits.
    let (centre, mean) = (sum(&|o| o.x) / weight, sum(&|o| o.y) / weight);
    let spread = sum(&|o| (o.x - centre) * (o.x - centre));
    let slope = sum(&|o| (o.x - centre) * (o.y - mean)) / spread;
    let intercept = mean - slope * centre;
    let squares = sum(&|o| {
        let residual = o.y - intercept - slope * o.x;
        residual * residual
    });
    let freedom = observations.len().checked_sub(2)?;
    let sensitivities = observations.iter().map(|o| {
        let of_slope = (o.x - centre) / (o.variance * spread);
        (1.0 / (o.variance * weight) - centre * of_slope, of_slope)
    });
    let variances = [
        1.0 / weight + centre * centre / spread,
        1.0 / spread,
        -centre / spread,
    ];
    let all = [intercept, slope, squares];
    let known = spread > 0.0 && all.iter().chain(&variances).all(|one| one.is_finite());
    known.then(|| Line {
        intercept,
        slope,
        variances,
        scatter: (freedom > 0).then(|| squares / freedom as f64),
        sensitivities: sensitivities.collect(),
    })
}
