"""Who keeps in step with the counters. A room above says so once, when it starts; it is told in the same transaction.

What is due moves with the counters and may not lag behind them, but this room may not know what is due. Followers
write; they never refuse, and nothing here depends on what they do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class CountersMoved:
    """The counters of an aircraft, or a component's own, are no longer what they were, from a moment on.

    `is_plain`: flights were added, and nothing fitted, removed or overhauled since then counts from them. Otherwise
    more reads differently: a void flight, a correction, a flight from before a component was fitted, and what was
    fitted, removed or overhauled at that moment.
    """

    since: datetime
    aircraft_id: int | None = None
    component_id: int | None = None
    is_plain: bool = False


Follower = Callable[[Sequence[CountersMoved]], None]
_followers: list[Follower] = []


def follow_counters(follower: Follower) -> None:
    """Have it told of every move from now on; saying so twice changes nothing."""
    if follower not in _followers:
        _followers.append(follower)


def tell_followers(moves: Sequence[CountersMoved]) -> None:
    """Tell of moves just written: the last thing before the transaction ends."""
    for follower in _followers:
        follower(moves)
