"""The published schema of the JSON facts, and facts of every kind held to it by another library."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import jsonschema
import msgspec
import numpy as np
import pytest

from loopback.examination.records import Setup
from loopback.facts import Analysis
from loopback.identify.found import BufferInput, Network, PlainBounds
from loopback.quality.finding import Finding
from loopback.quantity import Estimate
from loopback.report.document import facts_json
from loopback.report.facts_schema import SCHEMA_ID, facts_schema, schema_text, shipped_schema
from loopback.switching.result import Cause, Figure, TapEvent, TapFigures
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import compare_expected
from loopback.verdict.result import Reason, Result
from tests.reference.command_line import here
from tests.reference.invented_analysis import analysis, pulldown_result, twelve_runs
from tests.reference.invented_pictures import presses

VALIDATOR = jsonschema.Draft202012Validator(facts_schema())
MADE_ANEW = (
    "the records changed: write loopback.report.facts_schema.schema_text() to "
    "loopback/report/facts.schema.json"
)


def complaints(text: str) -> list[str]:
    """What is wrong with a document, with its place."""
    return [f"{e.json_path}: {e.message[:200]}" for e in VALIDATOR.iter_errors(json.loads(text))]


def test_what_is_shipped_is_what_the_records_say() -> None:
    """The file in the package is the schema of the records as they are now."""
    assert shipped_schema() == schema_text(), MADE_ANEW


def test_it_is_a_schema_of_its_own() -> None:
    """Valid by its own rules, named without any host, and nothing in it leads outside."""
    schema = facts_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$id"] == SCHEMA_ID
    assert SCHEMA_ID.startswith("urn:")
    text = shipped_schema()
    references = set(msgspec.json.decode(text)["$defs"])
    used = {part.split('"')[0] for part in text.split('"#/$defs/')[1:]}
    assert used <= references
    assert text.count("http") == 1  # the dialect


def _unmeasured(made: Analysis) -> Analysis:
    empty = replace(pulldown_result(), path="none", shunt=None, certainty=None, grades=())
    return replace(made, pedal_runs=(), references=(), result=replace(empty, series_ohm=None))


def _infinite(made: Analysis) -> Analysis:
    nothing = Estimate(math.nan, math.inf, "x")
    result: Result = replace(
        made.result,
        reasons=(Reason("residual", {"db": math.nan, "f": np.float64(2.0), "how": "flat"}),),
        network=Network(nothing, nothing, nothing, residual_db=math.nan),
        buffer=BufferInput(nothing, Estimate(0, 0, "farad"), None, True),
        plain=PlainBounds(math.inf, 0.0, 1e-9, 2e4, Estimate(0.0, 0.01, "dB")),
    )
    return replace(made, result=result)


def _expected(made: Analysis) -> Analysis:
    sheet = Expectation(true_bypass=True, pulldown=1e6, most_capacitance=30e-12)
    return replace(made, expected=compare_expected(sheet, made.result))


def _noticed(made: Analysis) -> Analysis:
    return replace(made, findings=(Finding("hum", "look", "31 dB", "Hum.", "Battery.", "01/1"),))


def _elsewhere(made: Analysis) -> Analysis:
    bare = msgspec.structs.replace(made.examination, setup=Setup("files"))
    return replace(made, examination=bare)


def _many(made: Analysis) -> Analysis:
    return replace(made, pedal_runs=twelve_runs())


def _pressed_and_tapped(made: Analysis) -> Analysis:
    pressed = presses("V", 12)
    tail = Figure(Estimate(2e-3, 1e-4, "V"), Estimate(-3e-3, 1e-4, "V"), 1e-4)
    causes = (Cause("electrolytic", {"tail_s": 0.3, "u_s": 0.016}),)
    lit = replace(pressed.lit, dc_step=tail, tail_s=0.3)
    drop = TapEvent(
        3.2, 0.04, Estimate(-41.0, 0.5, "dB"), Estimate(0.0, 0.1, "deg"), True, None, 1e-3
    )
    taps = TapFigures((drop, replace(drop, f_hz=5e3, drops_out=False)), 20.0, 0.003, 0.02, 2)
    return replace(made, footswitch=replace(pressed, lit=lit, causes=causes), taps=taps)


@pytest.mark.parametrize(
    "change",
    [
        lambda made: made, _unmeasured, _infinite, _expected, _noticed, _elsewhere, _many,
        _pressed_and_tapped,
    ],
)  # fmt: skip
def test_facts_of_every_kind_fit(change: Callable[[Analysis], Analysis]) -> None:
    """Complete, empty, infinite, expected, noticed, from elsewhere, many, pressed and tapped."""
    assert complaints(facts_json(change(analysis()))) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("version",), 2),
        (("format",), "another"),
        (("result", "path"), "splendid"),
        (("result", "across", "c_farad", "value"), "19.2 pF"),
        (("pedal_runs", 0, "takes"), 1.5),
        (("unknown",), 1),
    ],
)
def test_what_is_wrong_does_not_fit(path: tuple[str | int, ...], value: object) -> None:
    """Another version, class or type, and a field that is not known, are complained about."""
    facts: Any = json.loads(facts_json(analysis()))
    part = facts
    for step in path[:-1]:
        part = part[step]
    part[path[-1]] = value
    assert complaints(json.dumps(facts))


def test_schema_is_printed_without_a_folder(capsys: pytest.CaptureFixture[str]) -> None:
    """`export --schema` prints it; without it a folder is asked for."""
    printed = here(["export", "--schema"], capsys)
    assert (printed.status, printed.err) == (0, "")
    assert json.loads(printed.out) == json.loads(shipped_schema())
    missing = here(["export"], capsys)
    assert missing.status == 2
    assert "FOLDER" in missing.err


def test_times_of_presses_and_taps_have_their_doubt() -> None:
    """Moment and length to the moments read, a time constant to the steps it was looked for in."""
    facts: Any = json.loads(facts_json(_pressed_and_tapped(analysis())))
    first = facts["taps"]["events"][0]
    assert first["at_u_s"] == pytest.approx(1e-3 / math.sqrt(12))
    assert first["lasts_u_s"] == pytest.approx(1e-3 / math.sqrt(6))
    lit = facts["footswitch"]["lit"]
    assert lit["tail_u_s"] == pytest.approx(0.3 * math.log(600) / 35 / math.sqrt(12))
