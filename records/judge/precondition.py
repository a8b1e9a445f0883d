"""Preconditions: without them a test is no evidence, whatever it measured. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from records.judge.terms import Outcome, Reading, Verdict
from records.judge.tolerance import judge
from scheduling.limits.kinds import Limit


def judge_precondition(
    samples: Sequence[Reading], limit: Limit, *, minimum_samples: int = 1, field: str = "sample"
) -> Verdict:
    """Every sample inside, else INVALID: 28.0 and 27.4 V in 27.5 to 28.5 V miss it by 0.1 V.

    Fewer samples than asked for is INCOMPLETE, unless one is already outside. Raises RefusedInput like judge.
    """
    verdict = judge(samples, limit, field=field)
    if verdict.outcome in (Outcome.FAIL, Outcome.INVALID):
        return replace(verdict, outcome=Outcome.INVALID, reason=f"{verdict.reason}; the test is no evidence")
    taken = sum(sample is not None for sample in samples)
    if verdict.passes and taken < minimum_samples:
        return Verdict(Outcome.INCOMPLETE, f"{taken} of {minimum_samples} samples taken", verdict.unit)
    return verdict
