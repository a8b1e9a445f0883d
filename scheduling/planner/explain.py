"""Why a job found no place: which time, place, person or equipment is short, in words.

Pure.
"""

from __future__ import annotations

from itertools import combinations

from scheduling.planner.board import Board, Need
from scheduling.planner.greedy import cheapest
from scheduling.planner.problem import Id, Job, length_words, moment_words
from scheduling.planner.timeline import first

SHORT = {
    Need.PEOPLE: "{team} were on shift and free",
    Need.SKILL: "somebody authorised for {skills} were on shift and free",
    Need.EQUIPMENT: "{equipment} were free",
    Need.BAY: "a bay were free",
    Need.AIRCRAFT: "no other work on the aircraft stood in the way",
    Need.ORDER: "the work before and after it left room",
}


def why_unplaced(board: Board, job: Job) -> tuple[str, ...]:
    """Every reason found, the plainest first.

    Example: the only fluid kit is taken all week: "It would fit on Tue 09:30 if 1 fluid-kit were free.".
    """
    plain = (*_waits(board, job), *_no_time(board, job))
    return plain or _never_there(board, job) or _taken(board, job) or _too_dear(board, job)


def _waits(board: Board, job: Job) -> tuple[str, ...]:
    missing = [board.facts.jobs[identity].title for identity in job.after if identity not in board.slots]
    return tuple(f"It waits for {title}, which found no place." for title in missing)


def _no_time(board: Board, job: Job) -> tuple[str, ...]:
    windows = board.facts.windows[job.aircraft]
    before, after = board.facts.towing(job)
    length = length_words(before + job.duration + after)
    if not windows:
        return (f"{job.aircraft} is not on the ground at a base this week.",)
    longest = max(window.end - window.start for window in windows)
    if longest < before + job.duration + after:
        return (f"{job.aircraft} stands at most {length_words(longest)} at a time; {length} are needed.",)
    if not any(board.possible_starts(job, window, frozenset(Need)) for window in windows):
        limits = [f"not before {moment_words(job.earliest)}"] if job.earliest else []
        limits += [f"done by {moment_words(job.due_hard)}"] if job.due_hard is not None else []
        return (f"No ground time of {length} lies within its limits ({', '.join(limits)}).",)
    return ()


def _never_there(board: Board, job: Job) -> tuple[str, ...]:
    """Needs that even an empty week would not meet while the aircraft is on the ground."""
    empty = Board(board.facts)
    windows = board.facts.windows[job.aircraft]
    bases = " or ".join(sorted({window.base for window in windows}))
    words = {
        Need.PEOPLE: f"fewer than {job.people} people are on shift together at {bases}",
        Need.SKILL: f"nobody authorised for {_skills(job)} is on shift long enough at {bases}",
        Need.EQUIPMENT: f"{_equipment(job)} cannot be had at {bases}",
        Need.BAY: f"no bay at {bases} is open long enough",
    }
    found = [
        f"While {job.aircraft} is on the ground, {words[need]}."
        for need in words
        if not any(empty.possible_starts(job, window, frozenset(Need) - {need}) for window in windows)
    ]
    return tuple(found)


def _taken(board: Board, job: Job) -> tuple[str, ...]:
    """The fewest needs that, were they met, would give the job a place on this board."""
    if _soonest(board, job, frozenset()) is not None:
        return ()
    for size in range(1, len(Need) + 1):
        found = {needs: _would_fit(board, job, needs) for needs in combinations(Need, size)}
        # Whoever is authorised is also a pair of hands: the narrower wish says all.
        if found.get((Need.SKILL,)):
            found.pop((Need.PEOPLE,))
        if any(found.values()):
            return tuple(words for words in found.values() if words)
    return ("Its needs are met one by one, but never together.",)


def _would_fit(board: Board, job: Job, needs: tuple[Need, ...]) -> str:
    without = frozenset(needs) | ({Need.SKILL} if Need.PEOPLE in needs else set())
    start = _soonest(board, job, without)
    if start is None:
        return ""
    words = {"skills": _skills(job), "equipment": _equipment(job), "team": _team(job)}
    wishes = " and ".join(SHORT[need].format(**words) for need in needs)
    return f"It would fit on {moment_words(start)} if {wishes}."


def _soonest(board: Board, job: Job, without: frozenset[Need]) -> int | None:
    found = (
        first(board.possible_starts(job, window, without)) for window in board.facts.windows[job.aircraft]
    )
    return min((start for start in found if start is not None), default=None)


def _too_dear(board: Board, job: Job) -> tuple[str, ...]:
    option = cheapest(board, job)
    if option is None:
        return ("No place was found in the time given.",)
    moment = moment_words(option.start)
    if option.price >= job.drop_cost:
        return (
            f"It would fit on {moment}, but being that late or towing again costs more than leaving it out.",
        )
    return (f"It would fit on {moment}; the plan was not improved further in the time given.",)


def _team(job: Job) -> str:
    if job.people == 1:
        return f"1 person authorised for {_skills(job)}" if job.skills else "1 person"
    tail = f", one of them authorised for {_skills(job)}," if job.skills else ""
    return f"{job.people} people{tail}"


def _skills(job: Job) -> str:
    return " and ".join(sorted(job.skills))


def _equipment(job: Job) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in job.equipment) or "equipment"


def unplaced_ids(board: Board) -> list[Id]:
    """Jobs of the week that are not on the board."""
    return [job.id for job in board.facts.problem.jobs if job.id not in board.slots]
