"""Break a whole service for so long: `python -m tests.faults --minutes 10 --seed 1`; figures as JSON.

The exit code is 1 when anything was lost, doubled, forbidden or left undone.
"""

from __future__ import annotations

import argparse
import sys
import time

from tests.faults.counting import as_json
from tests.faults.driving import run
from tests.faults.stage import staged


def main() -> int:
    """Run once for each seed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, action="append", help="may be given several times")
    parser.add_argument("--clients", type=int, default=3)
    parser.add_argument("--copy-of", default="", help="a migrated, empty database to copy: a quicker start")
    parser.add_argument("--gap", type=float, default=0.8, help="mean seconds between two faults")
    wanted = parser.parse_args()
    found = False
    for seed in wanted.seed or [time.time_ns() % 1_000_000]:
        points = 500 + int(wanted.minutes * 400)
        with staged(points=points, copy_of=wanted.copy_of) as (stage, plant):
            try:
                figures, _ = run(
                    stage,
                    plant,
                    seconds=wanted.minutes * 60,
                    seed=seed,
                    clients=wanted.clients,
                    gap_s=wanted.gap,
                )
            except TimeoutError as trouble:
                print(f"seed {seed}: {trouble}; look into {stage.folder.logs}", flush=True)  # noqa: T201
                found = True
                input("Enter ends it. ") if sys.stdin.isatty() else None
                continue
        print(as_json(figures), flush=True)  # noqa: T201
        found = found or bool(figures["faults"])
    return int(found)


if __name__ == "__main__":
    raise SystemExit(main())
