"""What the result says of runs that were refused."""

from __future__ import annotations

from dataclasses import replace

from loopback.simulate.pedal import load_pedal
from loopback.verdict.judge import judge
from loopback.verdict.result import Reason, Result
from loopback.verdict.sentences_path import path_sentence
from loopback.verdict.sentences_power import power_sentence
from loopback.verdict.sentences_reasons import reason_sentence
from tests.reference.bench_runs import examine


def test_refused_runs_are_not_counted_and_named() -> None:
    """A state of which the only run was refused is not tested, and no "every run" hides it."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    off = [e for e in evidence if e.label.power == "off"]
    position = judge(evidence, setup).bypass_position
    assert {e.label.position for e in off} == {"a", "b"}
    for which in ("bypass", "other"):
        lost = {e.run_id for e in off if (e.label.position == position) == (which == "bypass")}
        result = judge([replace(e, refused=e.run_id in lost) for e in evidence], setup)
        named = next(r for r in result.reasons if r.code == "unpowered_refused")
        assert set(str(named.numbers["refused"]).split()) == lost
        sentence = power_sentence(result)
        assert "both positions" not in sentence
        assert "not tested" in sentence.lower()
        assert all(run_id in sentence for run_id in lost)
        assert "not tested" in reason_sentence(named)
    whole = judge(evidence, setup)
    assert not any(r.code == "unpowered_refused" for r in whole.reasons)
    assert "refused" not in power_sentence(whole)


def test_none_names_the_runs_it_leaves_out() -> None:
    """The pedal that was not in the path in four runs may have been in the one that was refused."""
    reason = Reason("same_as_reference", {"db": 0.002, "refused": "04"})
    none = Result("none", (), "untested", (), None, None, None, (reason,), ())
    for sentence in (path_sentence(none), reason_sentence(reason)):
        assert "every run equals the reference within 0.002 dB (run 04 refused, not counted)" in (
            sentence[0].lower() + sentence[1:]
        ).replace("none: ", "")
    bare = replace(none, reasons=(Reason("same_as_reference", {"db": 0.002, "refused": ""}),))
    assert "refused" not in path_sentence(bare)
