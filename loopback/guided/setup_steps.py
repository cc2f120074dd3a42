"""Setting up as a machine of steps: what is asked for goes out, what was heard comes in.

`set_up` is a generator. It yields requests and is sent the answer to each: a key for `Ask`, text
for `AskText`, a `Heard` for `Listen`, those of the meter for `ListenShort`; nothing for `Show`,
`Tell` and `PlayTone`. It knows no terminal, no file and no sound.
"""

from __future__ import annotations

import math
from dataclasses import replace

import msgspec

from loopback.errors import ArgumentError
from loopback.guided import setup_words as words
from loopback.guided.hearing import Heard
from loopback.guided.setup_asked import AskText, PlayTone, SetupOutcome, Steps, Wishes
from loopback.guided.setup_check import check_resistor
from loopback.guided.setup_findings import judge_name, judge_node
from loopback.guided.setup_listening import MOST_TRIES, Listening, Part, ready, refusal
from loopback.guided.setup_values import dbv_of, full_scale_dbu, read_resistor
from loopback.identify.setup import find_setup
from loopback.meter.check_plug import Checked
from loopback.plan.events import Show, Tell
from loopback.quantity import estimate_text, parse_value

TONE_S = 12.0


def set_up(wishes: Wishes) -> Steps:
    """Set up: name, cautions, unplugged, level, leads, check plug, check cable, meter.

    Parameters
    ----------
    wishes : Wishes
        What is known beforehand.

    Yields
    ------
    SetupRequest
        See the module.

    Returns
    -------
    SetupOutcome
        When everything can be used.

    Raises
    ------
    StoppedError
        When the user stops.
    RigError
        When something that nobody put right makes measuring useless.
    """
    found = judge_name(wishes.name)
    if found is not None:
        yield words.told(found)
        if found.grade == "refuse":
            raise refusal(found)
    knobs = words.KNOBS.format(input=wishes.input)
    yield Show(knobs, cautions=words.CAUTIONS)
    yield from ready("Done?")
    steps = Listening(wishes)
    unplugged = yield from steps.unplugged()
    ohm, tolerance = wishes.resistor_ohm, wishes.resistor_tolerance
    if wishes.with_resistor and ohm is None:
        ohm, tolerance = yield from _ask_resistor()
    resistor: Heard | None = None
    checked: Checked | None = None
    steps.resistor_ohm, steps.resistor_tolerance = ohm, tolerance
    if wishes.with_resistor:
        resistor = yield from steps.find_level("resistor", "")
        resistor, plain = yield from steps.compare(resistor)
        checked = yield from check_resistor(steps)
        if checked is not None:
            ohm, tolerance = checked.standard
            steps.resistor_ohm, steps.resistor_tolerance = ohm, tolerance
    else:
        plain = yield from steps.find_level("plain", words.PLAIN_FIRST)
    check = yield from steps.check_cable()
    outcome = SetupOutcome(
        steps.level_dbfs,
        steps.rate_hz,
        unplugged,
        plain,
        resistor,
        ohm,
        tolerance,
        check,
        checked=checked,
    )
    if resistor is not None:
        outcome = yield from _found(outcome, resistor, plain)
    if wishes.meter or wishes.meter_v is not None:
        outcome = yield from _metered(outcome, wishes)
    else:
        yield Tell("Levels stay relative to full scale: no meter reading (--meter gives volts)")
    return outcome


def _ask_resistor() -> Part[tuple[float, float]]:
    question = "Resistor value? A multimeter reading is best."
    default = "100k 1%"
    for _ in range(MOST_TRIES):
        text = yield AskText(question, default)
        try:
            return read_resistor(str(text))
        except ArgumentError as error:
            yield Tell(error.found, "bad", tuple(x for x in (error.means, error.action) if x))
    raise refusal(None)


def _found(outcome: SetupOutcome, resistor: Heard, plain: Heard) -> Part[SetupOutcome]:
    """Find setup capacitance and input resistance."""
    known = {
        "resistor_ohm": outcome.resistor_ohm,
        "resistor_tolerance": outcome.resistor_tolerance,
    }
    label = msgspec.structs.replace(resistor.label, **known)
    pairs = [
        (label if heard is resistor else heard.label, heard.seen.response)
        for heard in (resistor, plain)
        if heard.seen is not None
    ]
    setup = find_setup(pairs)
    if setup is None or setup.basis != "both":
        return outcome
    node, load = setup.node_c.value, setup.load_r.value
    line = (
        f"Input {estimate_text(setup.load_r, 'Ω')}, "
        f"setup capacitance {estimate_text(setup.node_c, 'F')} (95 %)"
    )
    remark = judge_node(node)
    yield Tell(line, "good" if remark is None else "")
    if remark is not None:
        yield words.told(remark)
    return replace(outcome, node_farad=node, input_ohm=load)


def _metered(outcome: SetupOutcome, wishes: Wishes) -> Part[SetupOutcome]:
    """Turn a meter's reading of the tone into the level of full scale."""
    volts = wishes.meter_v
    if volts is None:
        yield Show(
            words.METER.format(output=wishes.output, level=outcome.level_dbfs, seconds=TONE_S)
        )
        yield from ready("")
        yield PlayTone(outcome.level_dbfs, outcome.rate_hz, TONE_S)
        text = str((yield AskText("The meter showed? (such as 0.245V; empty: nothing)", "")))
        if not text:
            return outcome
        volts = parse_value(text, "V")
    full = full_scale_dbu(volts, outcome.level_dbfs, outcome.plain.gain_db or 0.0)
    yield Tell(
        f"Full scale of the input: {full:+.1f} dBu ({dbv_of(full):+.1f} dBV); the pedal gets"
        f" {volts * math.sqrt(2):.2g} V peak",
        "good",
    )
    return replace(outcome, full_scale_dbu=round(full, 3))
