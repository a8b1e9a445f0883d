"""What a change of the left and right flows is consistent with: a list of causes, never one part alone. Pure.

Model behind the rules: a positive-displacement pump feeds both sides through one split, and porous panels
pass flow in proportion to pressure. So left/right depends on the sides only, whatever the pump does; and a
restriction on one side pushes its flow to the other, the total staying almost the same until the pump slips
or the relief opens.

Scores, with M tests in the baseline, shares wL = L0/(L0+R0) and wR of the sides, and sigma for one test of
one side: zS = dS / (sigma sqrt(1+1/M) sqrt(wL^2+wR^2)), zD = D / (sigma sqrt(2 (1+1/M))), zL and zR by
sigma sqrt(1+1/M).
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from records.judge.fault_causes import CAUSES, HEADLINES, Pattern
from records.judge.series import SidePair
from records.judge.side_trend import SideBaseline, balance_percent, together_percent
from records.judge.worded import Worded, positive

NOTICED_AT = 2.58
"""Two-sided 1 % point of the normal distribution."""


class Side(StrEnum):
    """A side of the aircraft."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> "Side":
        """The opposite side."""
        return Side.RIGHT if self is Side.LEFT else Side.LEFT


@dataclass(frozen=True, slots=True)
class SideScores:
    """Changes against the baseline in per cent (the balance in per cent of natural logarithm) and their
    scores.
    """

    left_percent: float
    right_percent: float
    together_percent: float
    balance_percent: float
    z_left: float
    z_right: float
    z_together: float
    z_balance: float


@dataclass(frozen=True, slots=True)
class FaultIndication(Worded):
    """The pattern found, the side that is low against the other (if any), and all causes it is consistent
    with.
    """

    pattern: Pattern
    low_side: Side | None
    consistent_with: tuple[str, ...]
    scores: SideScores

    @property
    def words(self) -> str:
        """The figures, then every cause; no cause is preferred."""
        figures = (
            f"left {self.scores.left_percent:+.1f} %, right {self.scores.right_percent:+.1f} %, "
            f"together {self.scores.together_percent:+.1f} % against the baseline"
        )
        side, other = (self.low_side or Side.LEFT), (self.low_side or Side.LEFT).other
        headline = HEADLINES[self.pattern].format(side=side.value, other=other.value)
        if not self.consistent_with:
            return f"{headline} ({figures})."
        return f"{headline} ({figures}). Consistent with any of: {'; '.join(self.consistent_with)}."


def side_scores(pair: SidePair, baseline: SideBaseline, sigma: float) -> SideScores:
    """Changes of one test against the baseline and how many standard deviations they are.

    Worked: baseline 100 and 100 of 6 tests, sigma 1.5, test 85 and 85: together -15 %, z = -15 / (1.5
    sqrt(7/6) sqrt(1/2)) = -13.09, balance 0.
    """
    one = positive("sigma", sigma) * math.sqrt(1 + 1 / baseline.tests)
    share = baseline.left / (baseline.left + baseline.right)
    left = 100 * (pair.left / baseline.left - 1)
    right = 100 * (pair.right / baseline.right - 1)
    together = together_percent(pair, baseline) - 100
    balance = balance_percent(pair, baseline)
    return SideScores(
        left_percent=left,
        right_percent=right,
        together_percent=together,
        balance_percent=balance,
        z_left=left / one,
        z_right=right / one,
        z_together=together / (one * math.hypot(share, 1 - share)),
        z_balance=balance / (one * math.sqrt(2)),
    )


def indicate_fault(pair: SidePair, baseline: SideBaseline, sigma: float) -> FaultIndication:
    """Read one test against its baseline by the left/right rules; the answer is a list of possible causes.

    >>> from datetime import date
    >>> test = SidePair(date(2026, 3, 14), 87.2, 111.9)
    >>> indicate_fault(test, SideBaseline(100.0, 100.0, 6), 1.5).pattern.value
    'one_side_restricted'
    """
    scores = side_scores(pair, baseline, sigma)
    pattern = _pattern(scores)
    low_side = None
    if abs(scores.z_balance) >= NOTICED_AT:
        low_side = Side.LEFT if scores.z_balance < 0 else Side.RIGHT
    side, other = (low_side or Side.LEFT), (low_side or Side.LEFT).other
    causes = tuple(cause.format(side=side.value, other=other.value) for cause in CAUSES[pattern])
    return FaultIndication(pattern, low_side, causes, scores)


def _pattern(scores: SideScores) -> Pattern:
    if scores.z_together >= NOTICED_AT:
        return Pattern.BOTH_HIGH
    total_fell = scores.z_together <= -NOTICED_AT
    if abs(scores.z_balance) < NOTICED_AT:
        return Pattern.COMMON_CAUSE if total_fell else Pattern.NO_CHANGE
    if not total_fell:
        return Pattern.ONE_SIDE_RESTRICTED
    z_other = scores.z_right if scores.z_balance < 0 else scores.z_left
    if z_other >= NOTICED_AT:
        return Pattern.RESTRICTED_AND_RELIEVED
    return Pattern.BOTH_LOW_UNEQUAL if z_other <= -NOTICED_AT else Pattern.ONE_SIDE_LOST
