"""The patterns of a left/right change and every cause each is consistent with, as plain texts. Pure.

`{side}` is the side that is low against the other, `{other}` the other one.
"""

from enum import StrEnum


class Pattern(StrEnum):
    """How the flows of the two sides changed against their baseline."""

    NO_CHANGE = "no_change"
    COMMON_CAUSE = "common_cause"
    ONE_SIDE_RESTRICTED = "one_side_restricted"
    RESTRICTED_AND_RELIEVED = "restricted_and_relieved"
    ONE_SIDE_LOST = "one_side_lost"
    BOTH_LOW_UNEQUAL = "both_low_unequal"
    BOTH_HIGH = "both_high"


HEADLINES = {
    Pattern.NO_CHANGE: "No change of either side beyond repeatability",
    Pattern.COMMON_CAUSE: "Both sides fell alike",
    Pattern.ONE_SIDE_RESTRICTED: "The {side} side is low against the {other}, the total unchanged",
    Pattern.RESTRICTED_AND_RELIEVED: "The {side} side fell, the {other} rose, and the total fell",
    Pattern.ONE_SIDE_LOST: "The {side} side fell and the {other} did not rise",
    Pattern.BOTH_LOW_UNEQUAL: "Both sides fell, the {side} more than the {other}",
    Pattern.BOTH_HIGH: "More fluid than the baseline gave",
}

CAUSES: dict[Pattern, tuple[str, ...]] = {
    Pattern.NO_CHANGE: (),
    Pattern.COMMON_CAUSE: (
        "pump weak or worn",
        "inlet filter, tank outlet or tank vent restricted",
        "low voltage at the pump",
        "relief valve opening low",
        "leak before the split",
        "all panels clogged, or fluid cold, with the relief valve open",
        "collection timed too short",
    ),
    Pattern.ONE_SIDE_RESTRICTED: (
        "{side} supply line, proportioning unit or one or more {side} panels restricted",
        "{other} side opened: a panel passing more, or a new panel",
        "a reading of one side wrong",
    ),
    Pattern.RESTRICTED_AND_RELIEVED: (
        "{side} supply line, proportioning unit or {side} panels restricted so far that the pump slips or "
        "the relief valve opens",
        "{side} side restricted together with any common cause: pump, inlet, voltage, leak before the split",
        "a reading of one side wrong",
    ),
    Pattern.ONE_SIDE_LOST: (
        "fluid lost on the {side} side after the split: leak, or fluid not caught",
        "{side} side misread: container, scale, spilt fluid or timing of that side",
        "{side} side restricted together with a common cause that hides the rise of the {other}",
    ),
    Pattern.BOTH_LOW_UNEQUAL: (
        "more than one cause at once: a common one (pump, inlet, voltage, leak before the split, timing) "
        "and a restriction or loss on the {side} side",
        "both sides restricted, the {side} more, with the relief valve open or the pump slipping",
        "a misreading of one side together with a common cause",
    ),
    Pattern.BOTH_HIGH: (
        "collection timed too long, or container or scale reading high",
        "warmer, thinner or other fluid than in the baseline",
        "configuration changed without an event: pump, panels, relief setting or voltage",
    ),
}

CANNOT_TELL_APART = (
    "The causes of one list need other checks to tell apart: pressure, voltage, a filter change, a repeat "
    "with a second watch or container.",
    "A restriction of one side looks like an opening of the other.",
    "Equal clogging of both sides leaves flow and balance unchanged while the pump holds the flow.",
    "Without readings per panel a restricted supply line looks like several restricted panels.",
    "The slow clogging of one panel among many may stay inside repeatability.",
)
"""What flows alone cannot decide: to be shown beside an indication."""
