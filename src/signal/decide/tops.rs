//! What the strokes' tops have in common, and what that leaves in doubt.

use super::call::{self, Look};
use super::context::{Context, tolerance};
use super::moments::Moments;
use super::quality;
use crate::signal::build_up::{Chance, Turned};
use crate::signal::find::Found;

/// What the strokes' tops have in common.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tops {
    cut_off: Moments,
    height: Moments,
    pub(super) standard: Moments,
    bias: Moments,
    /// What interpolation added: where it varies, the samples fell differently on every stroke.
    added: Moments,
}

impl Tops {
    pub(super) fn push(&mut self, found: &Found) {
        self.cut_off.push(found.cut_off, 1.0);
        self.height.push(found.level, 1.0);
        self.standard.push(found.standard, 1.0);
        self.bias.push(found.bias, 1.0);
        self.added.push(found.added, 1.0);
    }

    /// Looks at the chances up to now, in an engine turned so; see [`call::look`].
    pub(super) fn look(&self, chances: (Turned, &[Chance]), context: &Context<'_>) -> Option<Look> {
        let doubt = libm::hypot(self.standard.mean(), self.sampling_doubt());
        call::look(chances, context.rig, doubt, |level| {
            tolerance(context, level)
        })
    }

    /// What the sample rate leaves in doubt. Samples that fell on a different part of every
    /// stroke's top err at random, and that averages out; in step with the strokes they do not.
    pub(super) fn sampling_doubt(&self) -> f64 {
        let evenly_spread = quality::SPREAD * self.cut_off.mean();
        let varies = if evenly_spread > 0.0 {
            (self.added.variance().sqrt() / evenly_spread).min(1.0)
        } else {
            0.0
        };
        self.bias.mean() * (1.0 - varies + varies * quality::SHAPE).sqrt()
    }

    /// By what share of their height the sample rate may have cut the strokes, on average.
    pub(super) fn cut_off_share(&self) -> f64 {
        if self.height.mean() > 0.0 {
            self.cut_off.mean() / self.height.mean()
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests;
