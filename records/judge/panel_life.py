"""How long panels last: Weibull life with units still fitted counted as such. Pure.

Units still fitted, or removed for damage or convenience, are suspensions (right-censored) for the mode in
question. Leaving them out makes life look too short. With few removals the shape comes out too steep on
average, and nominal 95 % intervals cover rather less; below three removals nothing is fitted and a stated
shape must serve.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import refused
from records.judge.distributions import bisected, normal_quantile, poisson_mean
from records.judge.worded import Worded, counted, finite, positive

LEAST_REMOVALS = 3


@dataclass(frozen=True, slots=True)
class UnitLife:
    """Hours of one unit in place; `removed` is true only where it came off for the mode in question."""

    hours: float
    removed: bool

    def __post_init__(self) -> None:
        positive("hours", self.hours)


@dataclass(frozen=True, slots=True)
class LifeBounds:
    """An estimate with its lower and upper bound."""

    estimate: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class WeibullLife(Worded):
    """Shape and scale (hours) with log-Wald bounds, and the log-likelihood."""

    shape: LifeBounds
    scale: LifeBounds
    log_likelihood: float
    removals: int
    suspensions: int
    confidence: float

    def surviving(self, hours: float) -> float:
        """Share of units still in place after so many hours."""
        return math.exp(-((hours / self.scale.estimate) ** self.shape.estimate))

    def life(self, share_removed: float) -> float:
        """Hours by which this share has been removed: `life(0.10)` is the B10 life."""
        return self.scale.estimate * math.pow(-math.log1p(-share_removed), 1 / self.shape.estimate)

    @property
    def mean(self) -> float:
        """Mean hours to removal."""
        return self.scale.estimate * math.gamma(1 + 1 / self.shape.estimate)

    @property
    def words(self) -> str:
        """Scale and shape with bounds, and what they rest on."""
        return (
            f"From {counted(self.removals, 'removal')} and {counted(self.suspensions, 'unit')} still good: "
            f"63 % are removed by {self.scale.estimate:.0f} h "
            f"({self.scale.lower:.0f} to {self.scale.upper:.0f}), "
            f"10 % by {self.life(0.10):.0f} h; shape {self.shape.estimate:.2f} "
            f"({self.shape.lower:.2f} to {self.shape.upper:.2f}), {100 * self.confidence:.0f} % bounds. "
            f"Removals, not confirmed failures."
        )


def fit_life(units: Sequence[UnitLife], confidence: float = 0.95) -> WeibullLife:
    """Maximum likelihood fit to three or more removals and any suspensions.

    Worked: removals at 54, 187, 216, 240, 244, 335, 361, 373, 375, 386 h and ten units good at 500 h give
    shape 1.7208 and scale 606.53 h. Refuses fewer than three removals (use `least_scale`) and removals all
    at one time.
    """
    removed = [unit.hours for unit in units if unit.removed]
    if len(removed) < LEAST_REMOVALS:
        remedy = "use a stated shape instead"
        raise refused("too_few_removals", "units", len(removed), "removals are too few to fit", remedy)
    longest = max(unit.hours for unit in units)
    if min(removed) == longest:
        raise refused("one_time", "units", longest, "is the time of every removal", "check the hours")
    scaled = [unit.hours / longest for unit in units]
    logs = [math.log(hours / longest) for hours in removed]
    shape = _shape(scaled, logs)
    scale = longest * (math.fsum(hours**shape for hours in scaled) / len(removed)) ** (1 / shape)
    return _with_bounds(units, shape, scale, confidence)


def _shape(scaled: Sequence[float], removed_logs: Sequence[float]) -> float:
    """Root of sum(t^b ln t)/sum(t^b) - 1/b - mean(ln t removed), which rises in b."""
    mean_log = math.fsum(removed_logs) / len(removed_logs)
    logs = [math.log(time) for time in scaled]

    def is_above(shape: float) -> bool:
        powers = [math.exp(shape * log) for log in logs]
        weighted = math.fsum(power * log for power, log in zip(powers, logs, strict=True))
        return weighted / math.fsum(powers) - 1 / shape - mean_log > 0

    high = 1.0
    while not is_above(high):
        high *= 2
    return bisected(is_above, 0.0, high)


def _with_bounds(units: Sequence[UnitLife], shape: float, scale: float, confidence: float) -> WeibullLife:
    """Bounds from the observed information of ln(shape) and ln(scale), so that they stay above zero."""
    if not 0 < confidence < 1:
        raise refused("no_confidence", "confidence", confidence, "is no share", "use between 0 and 1")
    scores = [shape * math.log(unit.hours / scale) for unit in units]
    hazards = [math.exp(score) for score in scores]
    removals = sum(unit.removed for unit in units)
    of_shape = removals + math.fsum(s * s * h for s, h in zip(scores, hazards, strict=True))
    of_scale = shape * shape * removals
    of_both = -shape * math.fsum(s * h for s, h in zip(scores, hazards, strict=True))
    determinant = of_shape * of_scale - of_both * of_both
    z = normal_quantile((1 + confidence) / 2)
    log_likelihood = math.fsum(
        (math.log(shape / unit.hours) + score if unit.removed else 0.0) - hazard
        for unit, score, hazard in zip(units, scores, hazards, strict=True)
    )
    return WeibullLife(
        shape=_bounds(shape, z * math.sqrt(of_scale / determinant)),
        scale=_bounds(scale, z * math.sqrt(of_shape / determinant)),
        log_likelihood=log_likelihood,
        removals=removals,
        suspensions=len(units) - removals,
        confidence=confidence,
    )


def _bounds(estimate: float, reach: float) -> LifeBounds:
    return LifeBounds(estimate, estimate * math.exp(-reach), estimate * math.exp(reach))


@dataclass(frozen=True, slots=True)
class LeastScale(Worded):
    """Lower bound of the scale for a stated shape, where too few removals are known to fit one."""

    scale_lower: float
    shape: float
    removals: int
    units: int
    confidence: float

    @property
    def words(self) -> str:
        """The bound and the assumption it rests on."""
        return (
            f"{counted(self.removals, 'removal')} among {counted(self.units, 'unit')}: with an assumed shape "
            f"of {self.shape:.2f}, 63 % are removed no earlier than {self.scale_lower:.0f} h "
            f"({100 * self.confidence:.0f} % confidence)."
        )


def least_scale(units: Sequence[UnitLife], shape: float, confidence: float = 0.95) -> LeastScale:
    """Weibayes: eta_low = (sum t^beta / m)^(1/beta), m the Poisson mean at which r or fewer removals have
    chance 1-C.

    Without a removal m is -ln(1-C).

    >>> round(least_scale([UnitLife(500.0, False)] * 10, 2.0, 0.90).scale_lower, 1)
    1042.0
    """
    positive("shape", shape)
    if not units:
        raise refused("no_units", "units", 0, "is empty", "give the hours of the units in place")
    if not 0 < finite("confidence", confidence) < 1:
        raise refused("no_confidence", "confidence", confidence, "is no share", "use between 0 and 1")
    longest = max(unit.hours for unit in units)
    removals = sum(unit.removed for unit in units)
    total = math.fsum((unit.hours / longest) ** shape for unit in units)
    scale = longest * (total / poisson_mean(removals, 1 - confidence)) ** (1 / shape)
    return LeastScale(scale, shape, removals, len(units), confidence)
