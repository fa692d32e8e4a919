//! The same results with everything that is said put otherwise: how data become sentences.

use super::results::{
    Allowance, AllowancePart, Assessment, Cause, Corrected, Correction, CylinderAssessment,
    CylinderReading, Evidence, ExpectedReading, Finding, LeakDownBeside,
};

fn each<A, B>(list: Vec<A>, put: impl Fn(A) -> B) -> Vec<B> {
    list.into_iter().map(put).collect()
}

impl<S> Assessment<S> {
    /// Puts everything that is said otherwise.
    pub fn map<T>(self, say: &impl Fn(S) -> T) -> Assessment<T> {
        Assessment {
            verdict: say(self.verdict),
            judgement: self.judgement,
            score: self.score,
            score_expanded: self.score_expanded,
            cylinders: each(self.cylinders, |cylinder| cylinder.map(say)),
            expected: each(self.expected, |expected| expected.map(say)),
            comparisons: self.comparisons,
            findings: each(self.findings, |finding| finding.map(say)),
            disagreement: self.disagreement.map(say),
            allowance: self.allowance.map(|allowance| allowance.map(say)),
            notes: each(self.notes, say),
            cannot_tell: each(self.cannot_tell, say),
            next_steps: each(self.next_steps, say),
            rule_set: self.rule_set,
        }
    }
}

impl<S> Finding<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> Finding<T> {
        Finding {
            rule: self.rule,
            cylinders: self.cylinders,
            condition: self.condition,
            amount: self.amount,
            text: say(self.text),
            judgement: self.judgement,
            role: self.role,
            probability_within: self.probability_within,
            origin: self.origin,
            source: self.source,
        }
    }
}

impl<S> CylinderAssessment<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> CylinderAssessment<T> {
        CylinderAssessment {
            name: self.name,
            score: self.score,
            score_expanded: self.score_expanded,
            readings: each(self.readings, |reading| reading.map(say)),
            leak_down: self.leak_down.map(|beside| beside.map(say)),
            causes: each(self.causes, |cause| cause.map(say)),
        }
    }
}

impl<S> CylinderReading<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> CylinderReading<T> {
        CylinderReading {
            run: self.run,
            condition: self.condition,
            value: self.value,
            expanded: self.expanded,
            expanded_relative: self.expanded_relative,
            at_least: self.at_least,
            share_of_highest: self.share_of_highest,
            crank: self.crank,
            corrected: self.corrected.map(|corrected| Corrected {
                value: corrected.value,
                expanded_relative: corrected.expanded_relative,
                parts: each(corrected.parts, |part| Correction {
                    kind: part.kind,
                    factor: part.factor,
                    factor_standard: part.factor_standard,
                    text: say(part.text),
                }),
            }),
            leak: self.leak,
        }
    }
}

impl<S> LeakDownBeside<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> LeakDownBeside<T> {
        LeakDownBeside {
            loss: self.loss,
            loss_expanded: self.loss_expanded,
            leak: self.leak,
            cranked: self.cranked,
            agrees: self.agrees,
            heard: self.heard,
            text: say(self.text),
        }
    }
}

impl<S> Cause<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> Cause<T> {
        let evidence = |list: Vec<Evidence<S>>| {
            each(list, |one| Evidence {
                sign: one.sign,
                text: say(one.text),
            })
        };
        Cause {
            kind: self.kind,
            valve: self.valve,
            cylinders: self.cylinders,
            probability: self.probability,
            text: say(self.text),
            evidence_for: evidence(self.evidence_for),
            evidence_against: evidence(self.evidence_against),
        }
    }
}

impl<S> ExpectedReading<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> ExpectedReading<T> {
        ExpectedReading {
            condition: self.condition,
            low: self.low,
            likely: self.likely,
            high: self.high,
            basis: say(self.basis),
        }
    }
}

impl<S> Allowance<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> Allowance<T> {
        Allowance {
            currency: self.currency,
            expected: self.expected,
            parts: each(self.parts, |part| AllowancePart {
                job: say(part.job),
                cost: part.cost,
                probability: part.probability,
            }),
            text: say(self.text),
        }
    }
}
