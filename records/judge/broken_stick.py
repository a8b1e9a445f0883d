"""Level first, then a straight fall that meets a limit: the fit behind the forecast. Pure.

y = a up to tau, then straight from a to the limit, which is met at T. Measured from the limit, with u =
max(0, t - tau) and c = 1/(T - tau), the model is y' = a' (1 - c u): for each tau the sum of squares depends
on c alone, and both its minimum and the c at which it reaches a given bound have closed forms. So tau runs
over a daily grid and T needs none.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stick:
    """The sums one tau needs (of y', y'^2, u, u^2, y'u); tau, and the day of the last test, in days."""

    tau: float
    last: float
    count: int
    y: float
    yy: float
    u: float
    uu: float
    yu: float

    def squares(self, c: float) -> float:
        """Sum of squared residuals at the best level above the limit for this c; flat where c is 0."""
        return self.yy - self._explained(c)

    def level(self, c: float) -> float:
        """The best a', the level above the limit."""
        return (self.y - c * self.yu) / self._weight(c)

    @property
    def most(self) -> float:
        """The steepest c looked at: the limit met on the day of the last test."""
        return 1 / (self.last - self.tau)

    def best(self) -> float:
        """The c between 0 and `most` with the smallest sum of squares."""
        most = self.most
        candidates = [0.0, most]
        steepness = self.y * self.uu - self.u * self.yu
        if steepness != 0:
            candidates.append((self.u * self.y - self.count * self.yu) / steepness)
        possible = [c for c in candidates if 0 <= c <= most and self.level(c) > 0]
        return min(possible, key=self.squares, default=0.0)

    def within(self, bound: float) -> list[tuple[float, float]]:
        """The stretches of c between 0 and `most` whose sum of squares stays at or below the bound."""
        most = self.most
        edges = sorted({0.0, most, *(c for c in self._roots(bound) if 0 < c < most)})
        return [pair for pair in itertools.pairwise(edges) if self._is_inside(*pair, bound)]

    def _is_inside(self, low: float, high: float, bound: float) -> bool:
        middle = (low + high) / 2
        return self.level(middle) > 0 and self.squares(middle) <= bound

    def _roots(self, bound: float) -> list[float]:
        """Where (Y - c YU)^2 = (YY - bound) (n - 2 c U + c^2 UU), and where the level turns negative."""
        gap = self.yy - bound
        two = self.yu * self.yu - gap * self.uu
        one = 2 * (gap * self.u - self.y * self.yu)
        none = self.y * self.y - gap * self.count
        turning = [self.y / self.yu] if self.yu else []
        if two == 0:
            return turning + ([-none / one] if one else [])
        inside = one * one - 4 * two * none
        if inside < 0:
            return turning
        root = math.sqrt(inside)
        return [*turning, (-one - root) / (2 * two), (-one + root) / (2 * two)]

    def _explained(self, c: float) -> float:
        return (self.y - c * self.yu) ** 2 / self._weight(c)

    def _weight(self, c: float) -> float:
        return self.count - 2 * c * self.u + c * c * self.uu


@dataclass(frozen=True, slots=True)
class StickFit:
    """Best fit and interval, in days on the given scale; `latest` and `crossing` may be infinite."""

    crossing: float
    earliest: float
    latest: float
    fall_begins: float
    level: float
    squares: float
    flat_squares: float


def fit_stick(
    days: Sequence[int], values: Sequence[float], limit: float, allowance: float
) -> StickFit | None:
    """Fit level-then-falling to four or more tests; the interval holds every T within `allowance` of the
    best.

    The best T and its interval start at the last test at the earliest: the limit is not crossed yet. None
    where no three tests lie on different days. Worked: 100 on days 0 to 90, then 99, 98, 97 a month apart,
    limit 90: the fall of 1 per 30 days begins on day 90 and meets 90 on day 390.
    """
    sticks = _sticks(days, [value - limit for value in values])
    if not sticks:
        return None
    best = min(sticks, key=lambda stick: stick.squares(stick.best()))
    c = best.best()
    squares = best.squares(c)
    stretches = [
        (_met(stick, high), _met(stick, low))
        for stick in sticks
        for low, high in stick.within(squares + allowance)
    ]
    return StickFit(
        crossing=_met(best, c),
        earliest=min((early for early, _ in stretches), default=_met(best, c)),
        latest=max((late for _, late in stretches), default=_met(best, c)),
        fall_begins=best.tau,
        level=limit + best.level(c),
        squares=squares,
        flat_squares=best.squares(0.0),
    )


def _met(stick: Stick, c: float) -> float:
    """The day T of this c; rounding must not put it before the last test."""
    return math.inf if c == 0 else max(stick.last, stick.tau + 1 / c)


def _sticks(days: Sequence[int], above: Sequence[float]) -> list[Stick]:
    """One stick per day on which the fall may have begun: from the first test to the last but two."""
    sticks = []
    y, yy = math.fsum(above), math.fsum(value * value for value in above)
    for tau in range(days[0], min(days[-3], days[-1] - 1) + 1):
        falling = [(day - tau, value) for day, value in zip(days, above, strict=True) if day > tau]
        u, uu = sum(time for time, _ in falling), sum(time * time for time, _ in falling)
        yu = math.fsum(time * value for time, value in falling)
        sticks.append(Stick(tau, days[-1], len(days), y, yy, u, uu, yu))
    return sticks
