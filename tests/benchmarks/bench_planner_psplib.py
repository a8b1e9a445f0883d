"""How near the planner comes to the best known lengths of PSPLIB projects, through its own entry.

    python -m tests.benchmarks.bench_planner_psplib FOLDER [SECONDS] [SET ...]

FOLDER holds best_known.csv (set,file,best_known_makespan) and one folder of .rcp files per set. The PSPLIB
instances (Kolisch and Sprecher, 1996) are CC BY-SA 4.0 and are not copied here.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from pathlib import Path
from time import perf_counter

from scheduling.planner.solve import solve
from tests.benchmarks.psplib import length_of, week_from_patterson


def main(folder: Path, seconds: float, wanted: list[str]) -> None:
    """Print one line per set: how many reach the best known length, how many are proven, the mean deviation."""
    rows = defaultdict(list)
    with (folder / "best_known.csv").open() as file:
        for row in csv.DictReader(file):
            rows[row["set"]].append((row["file"], int(row["best_known_makespan"])))
    for name in wanted or sorted(rows):
        deviations, proven, began = [], 0, perf_counter()
        for file_name, best in rows[name]:
            problem = week_from_patterson((folder / name / file_name).read_text())
            plan = solve(problem, seconds)
            length = length_of(plan)
            if length < best or plan.bound - 1 > best:
                raise SystemExit(f"{file_name}: {length} contradicts the best known {best}")
            deviations.append(100 * (length - best) / best)
            proven += plan.is_optimal
        print(
            f"{name}: {sum(d == 0 for d in deviations)} of {len(deviations)} at best known, {proven} proven, "
            f"mean deviation {sum(deviations) / len(deviations):.2f} %, {seconds:g} s each, "
            f"{perf_counter() - began:.0f} s in all"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 5.0, sys.argv[3:])
