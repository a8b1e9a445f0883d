"""Decision rules with guard bands, and how probable it is that a value conforms. Pure.

A verdict is decided by exact fractions of the stated expanded uncertainty; probabilities are floats and only
inform. Sources: JCGM 106:2012 clause 7 (from memory), ILAC-G8:09/2019 clause 4.2 (guard bands).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from statistics import NormalDist

from fleet.quantities import Dimension, convert_difference, refused, unit_of
from scheduling.limits.fields import Fields


class RuleKind(StrEnum):
    """How measurement uncertainty enters the decision."""

    SIMPLE = "simple"
    GUARDED = "guarded"
    GUARDED_FOUR = "guarded_four"


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """A stated decision rule. The guard band is multiplier × expanded uncertainty, zero for SIMPLE.

    GUARDED knows pass and fail; GUARDED_FOUR adds conditional pass and conditional fail inside the band.
    `coverage_factor` (k of U = k·u) is kept because the record must state it (ISO/IEC 17025 clause 7.8.6).
    """

    kind: RuleKind = RuleKind.SIMPLE
    expanded_uncertainty: Decimal = Decimal(0)
    unit: str = "1"
    coverage_factor: Decimal = Decimal(2)
    multiplier: Decimal = Decimal(1)

    def guard_band(self, unit: str) -> Fraction:
        """The guard band in another unit: U 10 mL, multiplier 1, asked in "L" is 1/100."""
        if self.kind is RuleKind.SIMPLE:
            return Fraction(0)
        band = Fraction(self.multiplier) * Fraction(self.expanded_uncertainty)
        return convert_difference(band, self.unit, unit, field="decision_rule.unit")


SIMPLE = DecisionRule()

_FIELDS = ("kind", "expanded_uncertainty", "unit", "coverage_factor", "multiplier")


def rule_from_data(data: object, *, where: str = "decision_rule") -> DecisionRule:
    """The rule a JSON object describes; None is simple acceptance. Raises RefusedInput naming fields."""
    if data is None:
        return SIMPLE
    fields = Fields(data, where, _FIELDS)
    kind = fields.choice("kind", RuleKind, RuleKind.SIMPLE)
    if kind is RuleKind.SIMPLE:
        for name in _FIELDS[1:]:
            if name in fields.values:
                fields.complain(
                    name, "does not belong to simple acceptance", "leave it out or choose guarded"
                )
        fields.finish("bad_decision_rule")
        return SIMPLE
    uncertainty = fields.decimal("expanded_uncertainty", above="0")
    coverage = fields.optional_decimal("coverage_factor", "2")
    multiplier = fields.optional_decimal("multiplier", "1", least="-1")
    if coverage <= 0:
        fields.complain("coverage_factor", "must be above 0", "write the k that belongs to U, usually 2")
    if kind is RuleKind.GUARDED_FOUR and multiplier <= 0:
        fields.complain("multiplier", "must be above 0 for four outcomes", "write 1, or choose guarded")
    rule = DecisionRule(kind, uncertainty, fields.unit(), coverage, multiplier)
    fields.finish("bad_decision_rule")
    return rule


def rule_to_data(rule: DecisionRule) -> dict[str, str]:
    """The JSON object of a rule, to be stored with every verdict."""
    if rule.kind is RuleKind.SIMPLE:
        return {"kind": "simple"}
    return {
        "kind": rule.kind.value,
        "expanded_uncertainty": format(rule.expanded_uncertainty, "f"),
        "unit": rule.unit,
        "coverage_factor": format(rule.coverage_factor, "f"),
        "multiplier": format(rule.multiplier, "f"),
    }


def describe_rule(rule: DecisionRule) -> str:
    """The rule in words, for screen and paper."""
    if rule.kind is RuleKind.SIMPLE:
        return "simple acceptance: inside the limits passes, measurement uncertainty is not taken off"
    unit = unit_of(rule.unit).label
    band = f"guard band {rule.multiplier:f} × U, U = {rule.expanded_uncertainty:f} {unit}"
    many = "four outcomes" if rule.kind is RuleKind.GUARDED_FOUR else "pass or fail"
    return f"{band} (k = {rule.coverage_factor:f}), {many}"


def guard_band_from_standard(standard_uncertainty: Decimal, z: Decimal) -> Fraction:
    """g = z·u exactly: u 13.8 and z 1.645 give Fraction("22.701")."""
    return Fraction(standard_uncertainty) * Fraction(z)


def conformance_probability(
    estimate: float, standard_uncertainty: float, low: float | None, high: float | None
) -> float:
    """Probability that the true value is inside: y 505, u 5, at least 500 gives 0.8413. It decides nothing.

    JCGM 106:2012 clause 7, normal distribution. Raises RefusedInput unless the uncertainty is above zero.
    """
    if not standard_uncertainty > 0:
        remedy = "state the standard uncertainty of the method"
        raise refused(
            "bad_uncertainty", "standard_uncertainty", standard_uncertainty, "must be above 0", remedy
        )
    normal = NormalDist()
    above = 1.0 if high is None else normal.cdf((high - estimate) / standard_uncertainty)
    below = 0.0 if low is None else normal.cdf((low - estimate) / standard_uncertainty)
    return above - below


def false_acceptance_risk(multiplier: float) -> float:
    """Greatest risk of accepting a bad value with guard band multiplier·U, k = 2: 1 gives 0.0228.

    ILAC-G8:09/2019 table 1: the risk at the acceptance limit, 1 − Φ(2·multiplier).
    """
    return NormalDist().cdf(-2 * multiplier)


def require_band_fits(rule: DecisionRule, unit: str, width: Fraction | None) -> Fraction:
    """The guard band in `unit`; refused where nothing could pass because the bands of both limits overlap."""
    if rule.kind is not RuleKind.SIMPLE and unit_of(unit).dimension is not unit_of(rule.unit).dimension:
        wanted: Dimension = unit_of(unit).dimension
        detail = f"does not measure {wanted}"
        raise refused("wrong_dimension", "decision_rule.unit", rule.unit, detail, f"state U in {unit}")
    band = rule.guard_band(unit)
    if width is not None and width < 2 * band:
        detail = "is so large that no value could pass"
        remedy = "use a better method, or simple acceptance if the approved data allow it"
        raise refused("method_cannot_decide", "decision_rule", describe_rule(rule)[:60], detail, remedy)
    return band
