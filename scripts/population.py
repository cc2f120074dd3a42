"""Thousands of invented pedals on five kinds of setup: are the answers right, the doubts honest?

Every pedal is examined on one setup first, the setups in turn, then on the others in rounds: a
study stopped anywhere is a fair one of what was done, and `--resume` goes on. With `--most 0` it
reports what is stored.

python3 scripts/population.py --count 3000 --seed 1 --resume rows.jsonl --json
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):  # many small matrices: threads only cost
    os.environ.setdefault(_name, "1")

CHUNK = 10


def main() -> int:
    """Study, report, and end with one JSON object if asked."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=3000, help="pedals on each kind of setup")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--setups", nargs="*", help="kinds of setup; all without")
    parser.add_argument("--most", type=int, help="examinations made now, at most; all without")
    parser.add_argument("--resume", type=Path, help="file of rows to continue and add to")
    parser.add_argument("--report", type=Path, help="folder for report and plot")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    from tests.reference.population_bound import bound, scatter
    from tests.reference.population_report import write_report
    from tests.reference.population_study import figures, in_rounds
    from tests.reference.population_table import KINDS

    kinds = chosen.setups or list(KINDS)
    rows = _stored(chosen.resume, chosen.seed)
    done = {(row["index"], row["kind"]) for row in rows}
    todo = [one for one in in_rounds(chosen.count, kinds) if one not in done][: chosen.most]
    rows = [r for r in rows if r["index"] < chosen.count and r["kind"] in kinds]
    chunks = [todo[i : i + CHUNK] for i in range(0, len(todo), CHUNK)]
    started = time.monotonic()
    with ProcessPoolExecutor(chosen.workers) as pool:
        jobs = pool.map(_study, [(chosen.seed, c) for c in chunks])
        for number, made in enumerate(jobs, 1):
            rows += made
            if chosen.resume is not None:
                with chosen.resume.open("a", encoding="utf-8") as file:
                    file.writelines(json.dumps({"seed": chosen.seed, **r}) + "\n" for r in made)
            spent = time.monotonic() - started
            left = spent / number * (len(chunks) - number)
            print(f"\r{len(rows)} examinations, {left:.0f} s left ", end="", file=sys.stderr)
    print(file=sys.stderr)
    print(write_report(rows, chosen.report))
    found = figures(rows)
    std, stated, _ = scatter(chosen.seed, 200)
    found["scatter_over_bound"] = std / bound()
    found["stated_over_bound"] = stated / bound()
    if chosen.json:
        print(json.dumps(found))
    return 0


def _study(work: tuple[int, list[tuple[int, str]]]) -> list[dict[str, object]]:
    from tests.reference.population_study import study_one

    seed, pairs = work
    return [study_one(seed, index, kind) for index, kind in pairs]


def _stored(path: Path | None, seed: int) -> list[dict[str, object]]:
    """Rows of an earlier run; an incomplete last line is passed over."""
    if path is None or not path.exists():
        return []
    rows = []
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if row.pop("seed") == seed:
            rows.append(row)
    return rows


if __name__ == "__main__":
    sys.exit(main())
