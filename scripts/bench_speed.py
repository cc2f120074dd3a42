"""How fast and how small: `python scripts/bench_speed.py [--json]`.

Prints five figures, each of which has a goal:

* the time of a whole analysis over that of the bare Fourier transforms of the same arrays. The
  examination is a standard one: ten runs of two takes and the four long silences of the plan, at
  96 kHz, pedal path and check cable. The analysis is everything from opening the folder to the
  result: decoding the files, gates, deconvolution, noise, identification, verdict. The transforms
  are one `numpy.fft.rfft` of each channel of each recording, decoded beforehand, whole, padded to
  the next product of 2, 3 and 5. Both are run in turn, in processor time, so that a busy machine
  does not count, and the shortest of each is taken;
* the whole report page with its pictures, from an analysis that is there, in seconds of processor
  time: the only figure that depends on the machine;
* a hundred examinations listed and compared from kept results, by `loopback compare` in a process
  of its own, over the time of one analysis, both in processor time. The hundred are copies of a
  short examination, so that their recordings need no room of their own; none of them is read;
* the peak of memory that an analysis allocates, over the size of its largest decoded recording;
* the start of `--help`, over that of an interpreter that does nothing.

With `--json` the last line is one object with `analysis_over_fft`, `page_s`,
`compare_100_over_analysis`, `peak_over_recording` and `help_ms_over_bare`.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from loopback.analysis import analyse  # noqa: E402  (the path comes first)
from loopback.cache.cached import cached_summary  # noqa: E402  (the path comes first)
from loopback.examination.folder import ExaminationFolder  # noqa: E402  (the path comes first)
from loopback.examination.records import Pedal, Setup  # noqa: E402  (the path comes first)
from loopback.examination.wav import read_samples  # noqa: E402  (the path comes first)
from loopback.guided.plan_runner import play_plan  # noqa: E402  (the path comes first)
from loopback.guided.simulated_sitting import SimulatedSitting  # noqa: E402  (the path comes first)
from loopback.plan.plans import STANDARD, TableFacts  # noqa: E402  (the path comes first)
from loopback.report.report_page import report_page  # noqa: E402  (the path comes first)
from loopback.response.sweeps import fast_length  # noqa: E402  (the path comes first)
from loopback.rig.simulated import simulated_rig  # noqa: E402  (the path comes first)
from loopback.signal.take import plan_signal  # noqa: E402  (the path comes first)

GOALS = {
    "analysis_over_fft": 2.0,
    "page_s": 3.0,
    "compare_100_over_analysis": 1.0,
    "peak_over_recording": 6.0,
    "help_ms_over_bare": 100.0,
}
RATE_HZ = 96_000
ROUNDS = 5
STARTS = 9
ISSUED = "2026-01-01T00:00:00+00:00"


def standard_examination(path: Path) -> ExaminationFolder:
    """Play the standard plan on the simulator into a new folder."""
    rig = simulated_rig("garden-tap", check_cable=True)
    setup = Setup(rig="simulator", name="simulated", resistor_ohm=100e3, resistor_tolerance=0.01)
    folder = ExaminationFolder.create(path, Pedal("bench"), setup, plan_signal(RATE_HZ))
    facts = TableFacts(resistor_ohm=100e3, resistor_tolerance=0.01)
    play_plan(folder, rig, STANDARD, facts)
    return folder


def recordings_of(folder: ExaminationFolder) -> list[Path]:
    """Paths of all recordings, in order."""
    return [folder.path_of(r) for run in folder.document.runs for r in run.recordings]


def bare_transforms(paths: list[Path]) -> float:
    """Seconds of one transform of every channel, decoding not counted."""
    total = 0.0
    for path in paths:
        samples, _ = read_samples(path)
        n_fft = fast_length(len(samples))
        for channel in range(samples.shape[1]):
            begun = time.process_time()
            np.fft.rfft(samples[:, channel], n_fft)
            total += time.process_time() - begun
    return total


def processor_seconds(action: Callable[[], object]) -> float:
    """How much processor time something takes."""
    begun = time.process_time()
    action()
    return time.process_time() - begun


def start_ms(arguments: list[str]) -> float:
    """How long a new interpreter with these arguments takes, milliseconds."""
    begun = time.perf_counter()
    command = [sys.executable, *arguments]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    return 1e3 * (time.perf_counter() - begun)


def hundred_folders(shelf: Path) -> list[str]:
    """Make a hundred examinations with their results kept."""
    first = shelf / "000"
    SimulatedSitting("garden-tap", "quick", sweep_s=1.0, bypass="a").play_into(
        first, Pedal("bench")
    )
    cached_summary(first)
    for number in range(1, 100):
        shutil.copytree(first, shelf / f"{number:03d}", copy_function=os.link)
    folders = sorted(shelf.iterdir())
    for folder in folders:
        cached_summary(folder)  # copies have times of their own
    return [str(folder) for folder in folders]


def child_seconds(arguments: list[str]) -> float:
    """How much processor time a child process takes."""
    begun = os.times()
    start_ms(arguments)
    ended = os.times()
    return (ended.children_user - begun.children_user) + (
        ended.children_system - begun.children_system
    )


def main(arguments: list[str]) -> int:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as directory:
        folder = standard_examination(Path(directory) / "standard")
        paths = recordings_of(folder)
        largest = max(read_samples(path)[0].nbytes for path in paths)
        analysis = analyse(folder.path)  # makes what is made once, such as the sweep's own spectrum
        analyses, transforms, pages = [], [], []
        for _ in range(ROUNDS):
            analyses.append(processor_seconds(lambda: analyse(folder.path)))
            transforms.append(bare_transforms(paths))
            pages.append(processor_seconds(lambda: report_page(analysis, issued=ISSUED)))
        shelf = hundred_folders(Path(directory) / "shelf")
        compared = [child_seconds(["-m", "loopback", "compare", *shelf]) for _ in range(ROUNDS)]
        tracemalloc.start()
        analyse(folder.path)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    bare, helped = [], []
    for _ in range(STARTS):
        bare.append(start_ms(["-c", "pass"]))
        helped.append(start_ms(["-m", "loopback", "--help"]))
    figures = {
        "analysis_over_fft": min(analyses) / min(transforms),
        "page_s": min(pages),
        "compare_100_over_analysis": min(compared) / min(analyses),
        "peak_over_recording": peak / largest,
        "help_ms_over_bare": min(helped) - min(bare),
    }
    print(f"{len(paths)} recordings of 10 runs at {RATE_HZ / 1e3:g} kHz, two channels")
    print(f"analysis {min(analyses):.2f} s, bare transforms {min(transforms):.2f} s")
    print(f"report page {min(pages):.2f} s")
    print(f"a hundred examinations compared {min(compared):.2f} s")
    print(f"peak {peak / 1e6:.0f} MB, largest decoded recording {largest / 1e6:.0f} MB")
    print(f"--help {min(helped):.0f} ms, bare interpreter {min(bare):.0f} ms")
    for name, value in figures.items():
        print(f"{name:20s} {value:7.2f}   goal {GOALS[name]:g}")
    if "--json" in arguments:
        print(json.dumps({name: round(value, 3) for name, value in figures.items()}))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
