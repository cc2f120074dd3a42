"""The JSON facts: strict, complete, with nothing private and nothing that JSON cannot hold."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import msgspec
import numpy as np
import pytest

from loopback.identify.found import BufferInput, Network, PlainBounds
from loopback.quality.finding import Finding
from loopback.quantity import Estimate
from loopback.report.document import facts_json, facts_of
from loopback.report.records import Facts
from loopback.verdict.result import Reason
from loopback.verdict.sentences import result_sentences
from tests.reference.invented_analysis import analysis, pulldown_result


def test_facts_are_read_back_as_written() -> None:
    """What is printed is one JSON object of the stated format, and holds every fact again."""
    source = analysis(findings=(Finding("hum", "look", "31 dB", "Hum.", "Battery.", "01/1"),))
    text = facts_json(source)
    assert msgspec.json.decode(text, type=Facts, strict=True) == facts_of(source)
    loose = json.loads(text)
    assert (loose["format"], loose["version"]) == ("loopback-facts", 1)
    assert [run["id"] for run in loose["pedal_runs"]] == ["02", "03", "04", "05", "08", "09"]
    assert loose["result"]["sentences"] == list(result_sentences(source.result))
    assert loose["result"]["across"]["c_farad"]["value"] == 19.2e-12


def test_numbers_carry_their_interval() -> None:
    """By hand: 19.2 pF with u = 0.35 pF covers 18.514 to 19.886 pF at 95 % (k = 1.96)."""
    across = facts_of(analysis()).result.across
    assert across is not None
    assert across.c_farad.low95 == pytest.approx(18.514e-12, rel=1e-4)
    assert across.c_farad.high95 == pytest.approx(19.886e-12, rel=1e-4)


def test_private_note_stays_at_home() -> None:
    """The private note is in the folder only."""
    source = analysis(private_note="belongs to a neighbour", note="for all to see")
    assert "neighbour" not in facts_json(source)
    assert "for all to see" in facts_json(source)


def test_hostile_numbers_become_null() -> None:
    """Infinity, nan and the numeric library's own scalars do no harm."""
    result = replace(
        pulldown_result(),
        certainty=np.float64(0.5),
        reasons=(Reason("residual", {"db": math.nan, "f": np.float64(2.0), "how": "flat"}),),
        network=Network(*(Estimate(math.inf, 1.0, "x"),) * 3, residual_db=math.nan),
        buffer=BufferInput(Estimate(1e-6, 0.0, "siemens"), Estimate(0, 0, "farad"), None, True),
        series_ohm=Estimate(np.float64(3.0), np.float64(0.1), "ohm"),
        plain=PlainBounds(math.inf, 0.0, 1e-9, 2e4, Estimate(0.0, 0.01, "dB")),
    )
    loose = json.loads(facts_json(analysis(result=result)))["result"]
    assert loose["reasons"] == [
        {"code": "residual", "numbers": {"db": None, "f": 2.0, "how": "flat"}}
    ]
    assert loose["network"]["r_ohm"]["value"] is None
    assert loose["network"]["residual_db"] is None
    assert loose["plain"]["series_over_ohm"] is None
    assert loose["buffer"]["gain_db"] is None
    assert loose["series_ohm"]["value"] == 3.0


def test_missing_parts_are_null_not_absent() -> None:
    """A machine finds every field, whatever the result."""
    result = replace(pulldown_result(), shunt=None, certainty=None)
    loose = json.loads(facts_json(analysis(result=result)))
    assert loose["result"]["across"] is None
    assert loose["result"]["certainty"] is None
    assert loose["references"][0]["level_db"] is None
    assert {"network", "buffer", "series_ohm", "plain"} <= set(loose["result"])
