"""A process that writes into an examination until it is killed; run by the test of that.

It forks a writer for each line on its input, so that the libraries are loaded only once; the
line holds a seed. The writer says on its output what has been listed so far.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np

from loopback.examination.folder import ExaminationFolder
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded


def write_for_ever(root: Path, imported: Path, shared: Path, seed: int) -> None:
    """Append runs and recordings of every kind, in an order drawn from the seed."""
    rng = np.random.default_rng(seed)
    folder = ExaminationFolder.open(root)
    lender = ExaminationFolder.open(shared)
    label = RunLabel("coupler", "resistor")
    print("ready\n", end="", flush=True)
    while True:
        samples = rng.uniform(-0.5, 0.5, (int(rng.integers(1, 20_000)), 2))
        from_samples = Recorded("sweep", 48_000, samples)
        match int(rng.integers(4)):
            case 0:
                run_id, _ = folder.append_run_with(label, from_samples)
            case 1:
                run_id = folder.append_run(label)
                folder.append_recording(run_id, from_samples)
            case 2:
                run_id, _ = folder.append_run_with(label, Recorded("sweep", 48_000, None, imported))
                folder.append_recording(run_id, from_samples)
            case _:
                run_id = folder.copy_run_from(lender, "01")
        for recording in folder.document.run(run_id).recordings:
            # One text, one write, also where Python's output is not buffered: killed between two
            # writes, half a line would run into what the other process says next.
            print(f"{recording.file} {recording.sha256}\n", end="", flush=True)


def main() -> None:
    """Fork one writer per line, and say its process number first."""
    root, imported, shared = (Path(name) for name in sys.argv[1:4])
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            write_for_ever(root, imported, shared, int(line))
        print(f"writer {child}\n", end="", flush=True)
        os.waitpid(child, 0)
        print("gone\n", end="", flush=True)


if __name__ == "__main__":
    main()
