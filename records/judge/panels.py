"""Which panels of a side changed, and what the time to wet says: consistent-with lists only. Pure."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.quantities import refused
from records.judge.faults import NOTICED_AT
from records.judge.worded import Worded, finite, positive


class PanelPattern(StrEnum):
    """How the panels of one side changed against their own baselines."""

    NO_CHANGE = "no_change"
    ONE_PANEL = "one_panel"
    SEVERAL_PANELS = "several_panels"
    ALL_ALIKE = "all_alike"
    ALL_UNEQUAL = "all_unequal"
    RISEN_ONLY = "risen_only"


@dataclass(frozen=True, slots=True)
class PanelChange:
    """One panel's flow against its own baseline, in per cent and in standard deviations."""

    position: str
    percent: float
    z: float


@dataclass(frozen=True, slots=True)
class PanelIndication(Worded):
    """The pattern over one side's panels, those that fell, and all causes it is consistent with."""

    pattern: PanelPattern
    changes: tuple[PanelChange, ...]
    fallen: tuple[str, ...]
    consistent_with: tuple[str, ...]

    @property
    def words(self) -> str:
        """Every panel with its change, then every cause."""
        figures = ", ".join(f"{change.position} {change.percent:+.1f} %" for change in self.changes)
        if not self.consistent_with:
            return f"No panel changed beyond repeatability ({figures})."
        causes = "; ".join(self.consistent_with)
        return f"Panels against their baseline: {figures}. Consistent with any of: {causes}."


def read_panels(
    before: Mapping[str, float], after: Mapping[str, float], sigma: float, baseline_tests: int = 6
) -> PanelIndication:
    """Compare the flow of each panel of one side with its baseline; the panels must be the same ones.

    >>> read_panels({"P1": 100, "P2": 100, "P3": 80}, {"P1": 56, "P2": 111, "P3": 89}, 1.5).pattern.value
    'one_panel'
    """
    if not before or set(before) != set(after):
        raise refused("panels_differ", "after", sorted(after), "are not the panels before", "give each panel")
    if baseline_tests < 1:
        raise refused("no_baseline", "baseline_tests", baseline_tests, "must be one or more", "give a count")
    one = positive("sigma", sigma) * math.sqrt(1 + 1 / baseline_tests)
    changes = []
    for position, base in before.items():
        percent = 100 * (finite(position, after[position]) / positive(position, base) - 1)
        changes.append(PanelChange(position, percent, percent / one))
    fallen = tuple(change.position for change in changes if change.z <= -NOTICED_AT)
    pattern = _panel_pattern(changes, len(fallen))
    return PanelIndication(pattern, tuple(changes), fallen, _panel_causes(pattern, fallen))


def _panel_pattern(changes: list[PanelChange], fallen: int) -> PanelPattern:
    if fallen == 0:
        risen = any(change.z >= NOTICED_AT for change in changes)
        return PanelPattern.RISEN_ONLY if risen else PanelPattern.NO_CHANGE
    if fallen < len(changes):
        return PanelPattern.ONE_PANEL if fallen == 1 else PanelPattern.SEVERAL_PANELS
    scores = [change.z for change in changes]
    alike = max(scores) - min(scores) < NOTICED_AT * math.sqrt(2)
    return PanelPattern.ALL_ALIKE if alike else PanelPattern.ALL_UNEQUAL


def _panel_causes(pattern: PanelPattern, fallen: tuple[str, ...]) -> tuple[str, ...]:
    named = " and ".join(fallen)
    return {
        PanelPattern.NO_CHANGE: (),
        PanelPattern.ONE_PANEL: (
            f"panel {named} restricted (clogged, or its own line)",
            f"fluid of panel {named} lost or not caught",
        ),
        PanelPattern.SEVERAL_PANELS: (
            f"panels {named} restricted",
            f"a line that feeds only {named} restricted",
            f"fluid of {named} lost or not caught",
        ),
        PanelPattern.ALL_ALIKE: (
            "supply line or proportioning unit of this side restricted",
            "a cause common to both sides, if the other side fell too",
            "all panels of this side clogged alike",
        ),
        PanelPattern.ALL_UNEQUAL: (
            "supply of this side restricted together with one or more panels",
            "all panels of this side clogged, not alike",
            "a cause common to both sides together with one or more panels",
        ),
        PanelPattern.RISEN_ONLY: (
            "the other side restricted, its flow pushed to this one",
            "warmer, thinner or other fluid, or a longer collection",
        ),
    }[pattern]


class WettingPattern(StrEnum):
    """What the time until an outlet wets says together with its flow."""

    AS_BEFORE = "as_before"
    AIR = "air_or_incomplete_purge"
    FLOW = "low_flow"
    BOTH = "low_flow_and_air"
    UNCLEAR = "low_flow_or_air"
    EARLY = "earlier_than_before"


_WETTING_WORDS = {
    WettingPattern.AS_BEFORE: "Wetted when expected",
    WettingPattern.AIR: "Late though the flow is not low: consistent with air in the line, incomplete purge",
    WettingPattern.FLOW: "Late in proportion to a low flow: consistent with pump, inlet or a restriction",
    WettingPattern.BOTH: "Later than the low flow explains: consistent with a flow problem and air together",
    WettingPattern.UNCLEAR: "Late, with a slightly low flow: consistent with a flow problem or with air",
    WettingPattern.EARLY: "Earlier than before: consistent with a line already full or with more flow",
}


@dataclass(frozen=True, slots=True)
class Wetting(Worded):
    """Time to wet and filled volume (time x flow) as multiples of the baseline's."""

    pattern: WettingPattern
    time_ratio: float
    flow_ratio: float
    volume_ratio: float

    @property
    def words(self) -> str:
        """The reading and the three ratios."""
        return (
            f"{_WETTING_WORDS[self.pattern]} (time x{self.time_ratio:.2f}, flow x{self.flow_ratio:.2f}, "
            f"volume filled x{self.volume_ratio:.2f})."
        )


_LATE = {
    (False, False): WettingPattern.UNCLEAR,
    (False, True): WettingPattern.AIR,
    (True, False): WettingPattern.FLOW,
    (True, True): WettingPattern.BOTH,
}
"""Reading of a late outlet by: is the flow low, did more volume have to fill."""


def read_wetting(time_ratio: float, flow_ratio: float, tolerance_percent: float) -> Wetting:
    """Read time to wet and flow, both as multiples of the baseline's: time x flow is the volume that had to
    fill.

    `tolerance_percent` is how far a ratio may stray before it counts.

    >>> read_wetting(1.5, 1.0, 15).pattern.value, read_wetting(1.5, 0.67, 15).pattern.value
    ('air_or_incomplete_purge', 'low_flow')
    """
    positive("time_ratio", time_ratio)
    positive("flow_ratio", flow_ratio)
    above = 1 + positive("tolerance_percent", tolerance_percent) / 100
    volume = time_ratio * flow_ratio
    pattern = WettingPattern.EARLY if time_ratio * above < 1 else WettingPattern.AS_BEFORE
    if time_ratio > above:
        pattern = _LATE[flow_ratio * above < 1, volume > above]
    return Wetting(pattern, time_ratio, flow_ratio, volume)
