"""Left/right and per-panel readings against an independent model of pump, relief, two sides and porous panels.

The network's numbers are invented: pump Q0 600 mL/min with slip 0.15 mL/min per kPa, relief 20 mL/min per kPa above
500 kPa, per side a supply of 0.10 and panels of 1.2, 1.2 and 1.5 kPa per mL/min.
"""

import json
import math
from dataclasses import dataclass, replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fleet.quantities import RefusedInput
from records.judge.fault_causes import Pattern
from records.judge.faults import Side, indicate_fault, side_scores
from records.judge.panels import PanelPattern, read_panels, read_wetting
from records.judge.series import SidePair
from records.judge.side_trend import SideBaseline, balance_percent

DAY = date(2026, 3, 14)
SIGMA = 1.5


@dataclass(frozen=True)
class Network:
    pump: float = 600.0
    slip: float = 0.15
    inlet_cap: float = math.inf
    leak: float = 0.0
    scale: float = 1.0
    supply: tuple[float, float] = (0.10, 0.10)
    panels: tuple[tuple[float, ...], tuple[float, ...]] = ((1.2, 1.2, 1.5), (1.2, 1.2, 1.5))

    def resistance(self, side: int) -> float:
        return self.scale * (self.supply[side] + 1 / sum(1 / r for r in self.panels[side]))

    def flows(self) -> tuple[float, float]:
        def excess(pressure: float) -> float:
            given_out = min(self.pump - self.slip * pressure, self.inlet_cap)
            relief = 20 * max(0.0, pressure - 500)
            return given_out - relief - pressure * (self.leak + sum(1 / self.resistance(s) for s in (0, 1)))

        pressure = brentq(excess, 0, 5000, xtol=1e-12)
        return pressure / self.resistance(0), pressure / self.resistance(1)

    def panel_flows(self, side: int) -> dict[str, float]:
        flow = self.flows()[side]
        after_supply = flow * (self.resistance(side) - self.scale * self.supply[side])
        return {f"P{k}": after_supply / (self.scale * r) for k, r in enumerate(self.panels[side], 1)}


HEALTHY = Network()
LEFT_PANEL_TWICE = replace(HEALTHY, panels=((2.4, 1.2, 1.5), (1.2, 1.2, 1.5)))
LEFT_PANEL_BLOCKED = replace(HEALTHY, panels=((1e12, 1.2, 1.5), (1.2, 1.2, 1.5)))
BASELINE = SideBaseline(*HEALTHY.flows(), 6)

CASES = [
    ("weak pump", replace(HEALTHY, pump=510.0), (-15.0, -15.0, -15.0, 0), Pattern.COMMON_CAUSE),
    ("slip threefold", replace(HEALTHY, slip=0.45), (-7.1, -7.1, -7.1, 0), Pattern.COMMON_CAUSE),
    ("inlet capped", replace(HEALTHY, inlet_cap=450.0), (-22.0, -22.0, -22.0, 0), Pattern.COMMON_CAUSE),
    ("left supply", replace(HEALTHY, supply=(0.25, 0.10)), (-12.8, 11.9, -0.5, -25.0), Pattern.ONE_SIDE_RESTRICTED),
    ("left panel", LEFT_PANEL_TWICE, (-8.4, 7.8, -0.3, -16.2), Pattern.ONE_SIDE_RESTRICTED),
    ("panel blocked", LEFT_PANEL_BLOCKED, (-19.0, 17.6, -0.7, -37.2), Pattern.ONE_SIDE_RESTRICTED),
    ("cold", replace(HEALTHY, scale=1.3), (-1.1, -1.1, -1.1, 0), Pattern.NO_CHANGE),
    ("cold, relief open", replace(HEALTHY, scale=4.0), (-17.6, -17.6, -17.6, 0), Pattern.COMMON_CAUSE),
    ("leak before the split", replace(HEALTHY, leak=0.1), (-2.5, -2.5, -2.5, 0), Pattern.NO_CHANGE),
]  # fmt: skip


def test_the_model_at_rest_gives_its_stated_flows():
    assert HEALTHY.flows() == pytest.approx((288.6, 288.6), abs=0.05)


@pytest.mark.parametrize(("name", "network", "changes", "pattern"), CASES, ids=[case[0] for case in CASES])
def test_each_simulated_fault_shows_its_changes_and_its_pattern(name, network, changes, pattern):
    indication = indicate_fault(SidePair(DAY, *network.flows()), BASELINE, SIGMA)
    scores = indication.scores
    shown = (scores.left_percent, scores.right_percent, scores.together_percent, scores.balance_percent)
    if pattern is Pattern.NO_CHANGE:
        assert indication.consistent_with == ()
    assert shown == pytest.approx(changes, abs=0.06)
    assert indication.pattern is pattern
    assert indication.low_side is (Side.LEFT if pattern is Pattern.ONE_SIDE_RESTRICTED else None)


def test_a_leak_before_the_split_is_seen_once_it_takes_three_per_cent():
    pair = SidePair(DAY, *replace(HEALTHY, leak=0.13).flows())
    assert indicate_fault(pair, BASELINE, SIGMA).pattern is Pattern.COMMON_CAUSE


def test_a_container_read_ten_per_cent_low_is_a_loss_or_misreading_of_that_side():
    left, right = HEALTHY.flows()
    indication = indicate_fault(SidePair(DAY, left * 0.9, right), BASELINE, SIGMA)
    assert indication.pattern is Pattern.ONE_SIDE_LOST
    assert indication.scores.balance_percent == pytest.approx(-10.5, abs=0.05)
    assert indication.scores.together_percent == pytest.approx(-5.0)
    assert any("misread" in cause for cause in indication.consistent_with)


def test_a_collection_ten_per_cent_short_looks_like_any_common_cause():
    left, right = HEALTHY.flows()
    indication = indicate_fault(SidePair(DAY, left * 0.9, right * 0.9), BASELINE, SIGMA)
    assert indication.pattern is Pattern.COMMON_CAUSE
    assert indication.consistent_with == (
        "pump weak or worn",
        "inlet filter, tank outlet or tank vent restricted",
        "low voltage at the pump",
        "relief valve opening low",
        "leak before the split",
        "all panels clogged, or fluid cold, with the relief valve open",
        "collection timed too short",
    )


@pytest.mark.parametrize(
    ("changes", "pattern", "low"),
    [
        ((0.0, 0.0), Pattern.NO_CHANGE, None),
        ((-20.0, -8.0), Pattern.BOTH_LOW_UNEQUAL, Side.LEFT),
        ((-8.0, -20.0), Pattern.BOTH_LOW_UNEQUAL, Side.RIGHT),
        ((-40.0, 20.0), Pattern.RESTRICTED_AND_RELIEVED, Side.LEFT),
        ((0.5, -10.0), Pattern.ONE_SIDE_LOST, Side.RIGHT),
        ((8.0, 8.0), Pattern.BOTH_HIGH, None),
        ((0.0, 12.0), Pattern.BOTH_HIGH, Side.LEFT),
    ],
)
def test_rules_by_the_changes_of_both_sides(changes, pattern, low):
    pair = SidePair(DAY, 100 + changes[0], 100 + changes[1])
    indication = indicate_fault(pair, SideBaseline(100.0, 100.0, 6), SIGMA)
    assert (indication.pattern, indication.low_side) == (pattern, low)


def test_scores_use_the_baselines_own_uncertainty_and_the_shares_of_the_sides():
    scores = side_scores(SidePair(DAY, 58.2, 38.8), SideBaseline(60.0, 40.0, 6), SIGMA)
    assert scores.z_together == pytest.approx(-3 / (1.5 * math.sqrt(7 / 6) * math.sqrt(0.36 + 0.16)))
    assert scores.z_balance == pytest.approx(0.0)
    assert scores.z_left == pytest.approx(-3 / (1.5 * math.sqrt(7 / 6)))


def test_words_list_every_cause_as_consistent_and_name_no_part_alone():
    words = indicate_fault(SidePair(DAY, 85.0, 85.0), SideBaseline(100.0, 100.0, 6), SIGMA).words
    assert words.startswith("Both sides fell alike (left -15.0 %, right -15.0 %, together -15.0 %")
    assert "Consistent with any of: pump weak or worn; inlet filter" in words
    assert words.count(";") == 6


@given(st.floats(20, 180), st.floats(20, 180))
def test_swapping_the_sides_swaps_the_side_and_keeps_the_pattern(left, right):
    baseline = SideBaseline(100.0, 100.0, 6)
    one = indicate_fault(SidePair(DAY, left, right), baseline, SIGMA)
    two = indicate_fault(SidePair(DAY, right, left), baseline, SIGMA)
    assert one.pattern is two.pattern
    assert (one.low_side and one.low_side.other) is two.low_side
    assert len(one.consistent_with) == len(two.consistent_with)


def test_every_pattern_but_no_change_lists_at_least_two_causes():
    pairs = {(100, 100), (85, 85), (87, 112), (60, 120), (90, 100), (80, 92), (110, 110)}
    seen = {}
    for left, right in pairs:
        found = indicate_fault(SidePair(DAY, left, right), SideBaseline(100.0, 100.0, 6), SIGMA)
        seen[found.pattern] = len(found.consistent_with)
    assert set(seen) == set(Pattern)
    assert seen.pop(Pattern.NO_CHANGE) == 0
    assert min(seen.values()) >= 2


@pytest.mark.parametrize(("panels", "loss"), [(2, -10), (3, -18), (4, -27), (6, -47)])
def test_smallest_loss_of_one_panel_that_the_balance_shows_at_one_test(panels, loss):
    """Invented network with equal panels of 1.2: the more panels a side has, the more one of them may clog unseen."""
    equal = (1.2,) * panels
    healthy = Network(panels=(equal, equal))
    baseline = SideBaseline(*healthy.flows(), 6)

    def clogged(factor: float) -> Network:
        return Network(panels=((1.2 * factor, *equal[1:]), equal))

    def score_left_over(factor: float) -> float:
        pair = SidePair(DAY, *clogged(factor).flows())
        return side_scores(pair, baseline, SIGMA).z_balance + 2.58

    factor = brentq(score_left_over, 1.0, 20.0)
    change = 100 * (clogged(factor).panel_flows(0)["P1"] / healthy.panel_flows(0)["P1"] - 1)
    assert change == pytest.approx(loss, abs=0.6)


def test_one_panel_down_and_its_siblings_up_is_that_panel():
    indication = read_panels(HEALTHY.panel_flows(0), LEFT_PANEL_TWICE.panel_flows(0), SIGMA)
    assert indication.pattern is PanelPattern.ONE_PANEL
    assert indication.fallen == ("P1",)
    assert [round(change.percent, 1) for change in indication.changes] == [-44.2, 11.5, 11.5]
    assert "panel P1 restricted" in indication.words


def test_a_blocked_panel_is_found_too():
    indication = read_panels(HEALTHY.panel_flows(0), LEFT_PANEL_BLOCKED.panel_flows(0), SIGMA)
    assert [round(change.percent, 1) for change in indication.changes] == [-100.0, 26.1, 26.1]
    assert indication.fallen == ("P1",)


def test_all_panels_of_a_side_down_alike_is_its_supply_or_something_common():
    network = replace(HEALTHY, supply=(0.25, 0.10))
    indication = read_panels(HEALTHY.panel_flows(0), network.panel_flows(0), SIGMA)
    assert indication.pattern is PanelPattern.ALL_ALIKE
    assert {round(change.percent, 1) for change in indication.changes} == {-12.8}
    assert len(indication.consistent_with) == 3
    right = read_panels(HEALTHY.panel_flows(1), network.panel_flows(1), SIGMA)
    assert right.pattern is PanelPattern.RISEN_ONLY


@pytest.mark.parametrize(
    ("after", "pattern"),
    [
        ({"P1": 100.0, "P2": 101.0, "P3": 99.0}, PanelPattern.NO_CHANGE),
        ({"P1": 80.0, "P2": 80.0, "P3": 110.0}, PanelPattern.SEVERAL_PANELS),
        ({"P1": 60.0, "P2": 90.0, "P3": 90.0}, PanelPattern.ALL_UNEQUAL),
    ],
)
def test_other_patterns_over_the_panels(after, pattern):
    assert read_panels(dict.fromkeys(("P1", "P2", "P3"), 100.0), after, SIGMA).pattern is pattern


def test_panels_that_are_not_those_of_the_baseline_are_refused():
    with pytest.raises(RefusedInput, match="not the panels before"):
        read_panels({"P1": 100.0}, {"P2": 100.0}, SIGMA)


@pytest.mark.parametrize(
    ("time", "flow", "pattern"),
    [
        (1.0, 1.0, "as_before"),
        (1.5, 1.0, "air_or_incomplete_purge"),
        (1.5, 1 / 1.5, "low_flow"),
        (2.5, 0.6, "low_flow_and_air"),
        (1.2, 0.9, "low_flow_or_air"),
        (0.6, 1.0, "earlier_than_before"),
        (1.0, 0.7, "as_before"),
    ],
)
def test_time_to_wet_times_flow_is_the_volume_that_had_to_fill(time, flow, pattern):
    wetting = read_wetting(time, flow, 15)
    assert wetting.pattern.value == pattern
    assert wetting.volume_ratio == pytest.approx(time * flow)
    if time > 1.15:
        assert "consistent with" in wetting.words


def test_a_wetting_without_flow_is_refused():
    with pytest.raises(RefusedInput, match="flow_ratio"):
        read_wetting(1.0, 0.0, 15)


def test_indications_turn_into_json():
    indication = indicate_fault(SidePair(DAY, 87.0, 112.0), SideBaseline(100.0, 100.0, 6), SIGMA)
    plain = json.loads(json.dumps(indication.to_dict(), allow_nan=False))
    assert plain["pattern"] == "one_side_restricted"
    assert plain["low_side"] == "left"
    assert plain["scores"]["left_percent"] == pytest.approx(-13.0)
    assert (
        balance_percent(SidePair(DAY, 87.0, 112.0), SideBaseline(100.0, 100.0, 6))
        == plain["scores"]["balance_percent"]
    )
