"""Kit pedals with one fault each, measured by the standard plan, and what the result names.

``python -m tests.reference.fault_table`` prints the table: fault, named, evidence.
"""

from __future__ import annotations

import sys
import tempfile
import textwrap
from dataclasses import dataclass, replace
from pathlib import Path

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import STANDARD, TableFacts
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Rig, RunRequest
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal
from loopback.signal.watch import Watch
from loopback.verdict.expectation import Expectation, parse_expectation
from loopback.verdict.faults.record import FaultCode
from loopback.verdict.sentences_faults import fault_words

SHEETS = {
    "": None,
    "wire": 'true_bypass = true\nmost_capacitance = "40p"\nleast_resistance = "5M"',
    "1M": 'true_bypass = true\nallow_pulldown = true\npulldown = "1M"\nmost_capacitance = "40p"',
}
"""Build sheets: none, wiring alone, wiring and one resistor."""


@dataclass(frozen=True)
class Faulty:
    """One pedal with one fault.

    Parameters are the pedal file, what has to be named first, what has to stand beside it, the
    build sheet, and what is done after the plan: nothing, presses, taps.
    """

    pedal: str
    named: FaultCode
    beside: tuple[FaultCode, ...] = ()
    sheet: str = ""
    watch: str = ""


CASES = (
    Faulty("kit-missing-jumper", "jumper_missing", ("switch_burnt",)),
    Faulty("cold-hearth", "jumper_missing", ("switch_burnt",)),
    Faulty("kit-columns-swapped", "columns_swapped", ("switch_burnt",)),
    Faulty("kit-jacks-swapped", "jacks_swapped", ("effect_dead",)),
    Faulty("kit-no-supply", "effect_dead", ("jacks_swapped",)),
    Faulty("kit-switch-melted", "effect_dead", ("switch_burnt", "jacks_swapped")),
    Faulty("kit-ground-tab", "ground_tab"),
    Faulty("kit-jack-shorting", "jack_shorting", ("plug_half_home", "ground_tab")),
    Faulty("kit-plug-half", "plug_half_home", ("jack_shorting",)),
    Faulty("kit-jack-open", "not_connected", ("plug_half_home", "switch_burnt")),
    Faulty("kit-ground-missing", "ground_missing", ("screen_open",)),
    Faulty("kit-screen-open", "screen_open", ("ground_missing",)),
    Faulty("kit-open-input", "input_open"),
    Faulty("kit-whine", "supply_whine"),
    Faulty("mill-whistle", "supply_whine"),
    Faulty("kit-relay-comb", "supply_comb", ("supply_whine",)),
    Faulty("kit-cold-joint", "weak_joint", ("switch_burnt",)),
    Faulty("kit-rectifying-joint", "weak_joint", ("switch_burnt",)),
    Faulty("kit-cold-joint", "joint_opens", ("jack_dirty",), watch="taps"),
    Faulty("kit-pulldown-100k", "pulldown_wrong", ("output_left",)),
    Faulty("kit-pulldown-10k", "pulldown_wrong", ("output_left",), sheet="1M"),
    Faulty("kit-pulldown-board", "pulldown_missing", sheet="1M"),
    Faulty("twin-anchor", "pulldown_twice", ("leakage",), sheet="1M"),
    Faulty("quarry-lamp", "pulldown_fitted", ("leakage",), sheet="wire"),
    Faulty("kit-whisker", "leakage", ("pulldown_fitted",), sheet="wire"),
    Faulty("kit-input-left", "input_left", ("output_left",), sheet="wire"),
    Faulty("kit-output-left", "output_left", ("input_left",), sheet="wire"),
    Faulty("kit-screened-lead", "screened_lead", sheet="wire"),
    Faulty("kit-lamp", "lamp_pop", ("effect_gain",), watch="presses"),
    Faulty("kit-leaky-capacitor", "capacitor_leak", ("electrolytic",), watch="presses"),
    Faulty("kit-electrolytic", "electrolytic", ("capacitor_leak",), watch="presses"),
)


def sheet_of(name: str) -> Expectation | None:
    """A build sheet by name."""
    text = SHEETS[name]
    return None if text is None else parse_expectation(text, name)


def examine(
    place: Path, pedal: str, *, sheet: str = "", watch: str = "", seed: int = 1
) -> Analysis:
    """Play the standard plan with short sweeps, then press or tap, and analyse."""
    rig = simulated_rig(pedal, seed)
    plan = replace(
        STANDARD, steps=tuple(replace(s, silence_s=min(s.silence_s, 1.0)) for s in STANDARD.steps)
    )
    setup = Setup("simulator", resistor_ohm=100e3, resistor_tolerance=0.01, full_scale_dbu=10.0)
    folder = ExaminationFolder.create(
        place / Path(pedal).stem, Pedal(Path(pedal).stem), setup, plan_signal(48_000, 1.0)
    )
    play_plan(folder, rig, plan, TableFacts("a", resistor_ohm=100e3, resistor_tolerance=0.01))
    if watch == "presses":
        press(folder, rig)
    elif watch == "taps":
        listen(folder, rig, Watch(steady=True, presses=0, rest_s=13.0))
    return analyse(folder.path, sheet_of(sheet))


def press(folder: ExaminationFolder, rig: Rig) -> None:
    """Press in silence and with a tone."""
    silent = Watch(steady=False, presses=10, rest_s=20.0, corner_hz=rig.facts().corner_hz)
    run_id = listen(folder, rig, silent)
    listen(folder, rig, replace_steady(silent), run_id)


def replace_steady(watch: Watch) -> Watch:
    """The same, fewer presses, with the tone all the time."""
    return Watch(steady=True, presses=4, rest_s=2.0, corner_hz=watch.corner_hz)


def listen(folder: ExaminationFolder, rig: Rig, watch: Watch, run_id: str = "") -> str:
    """Add one recording of watching."""
    label = RunLabel("pedal", "resistor", "on", "a", None, 100e3, 0.01)
    for recorded in rig.play(RunRequest(label, folder.document.signal, 0, watch=watch)):
        if run_id:
            folder.append_recording(run_id, recorded)
        else:
            run_id, _ = folder.append_run_with(label, recorded)
    return run_id


def line_of(case: Faulty, analysis: Analysis) -> str:
    """One entry of the table."""
    words = fault_words(analysis.faults)
    found = next((w for w in words if w.code == case.named), words[0] if words else None)
    sheet = f", sheet: {case.sheet}" if case.sheet else ""
    head = f"{case.pedal}{sheet}{f', {case.watch}' if case.watch else ''}"
    if found is None:
        return f"{head}\n    named nothing"
    codes = next(f.consistent_with for f in analysis.faults if f.code == found.code)
    evidence = textwrap.fill(" ".join(found.evidence), 96, initial_indent="    ",
                             subsequent_indent="    ")  # fmt: skip
    beside = f" (also {', '.join(codes)})" if codes else ""
    right = "right" if found.code == case.named else f"WRONG, is {case.named}"
    return f"{head}: {found.code}{beside}, {right}\n{evidence}"


if __name__ == "__main__":
    chosen = [case for case in CASES if not sys.argv[1:] or case.pedal in sys.argv[1:]]
    for one in chosen:
        with tempfile.TemporaryDirectory() as name:
            result = examine(Path(name), one.pedal, sheet=one.sheet, watch=one.watch)
        print(line_of(one, result), flush=True)
