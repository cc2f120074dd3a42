"""Result prose as tables: every code has its words, every number its doubt or its bound."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, get_args

import pytest

from loopback.identify.found import BufferInput, Network, PlainBounds, Shunt
from loopback.quantity import Estimate
from loopback.verdict.codes import Family, NotTestedCode, ReasonCode, TellCode
from loopback.verdict.result import GradeName, PathClass, PowerClass, Reason, Result
from loopback.verdict.sentences import (
    claim_line,
    evidence_lines,
    meter_lines,
    not_tested_line,
    plain_lead_lines,
    result_sentences,
    short_form,
    size_line,
    without_power,
    would_tell_lines,
)
from loopback.verdict.sentences_power import FAMILIES
from loopback.verdict.sentences_reasons import NOT_TESTED, REASONS, WOULD_TELL, reason_sentence

NUMBERS: dict[str, float | str] = {
    "db": 0.5, "u_db": 0.01, "hz": 37.8e3, "ohm": 1e6, "pf": -380.0, "middle_db": -5.4,
    "low_db": -1.0, "low_hz": 20.0, "level_db": -0.1, "top_db": -6.2, "top_khz": 20.0, "ms": 1.35,
    "u_ms": 0.001, "khz": 20.0, "c_pf": 0.1, "g_ns": 1.0, "on_ohm": 1.15e5, "off_ohm": 1.31e5,
    "det": 1.0, "u_det": 0.003, "u_ohm": 3.0, "times": 30.0, "kind": "inline",
    "db_1k": -55.0, "slope_db": 20.0, "what": "c", "probability": 0.8, "times_u": 30.0,
    "order": 3, "dbfs": -96.0, "count": 2, "powered": "yes", "pops": 3, "presses": 8, "events": 2,
    "drops": 1, "crackles": 0,
}  # fmt: skip
SHUNT = Shunt(
    Estimate(14.1e-12, 0.357e-12, "farad"), Estimate(1e-9, 3e-9, "siemens"), 0.001, 1e5, 412e-12
)
BOUNDS = PlainBounds(480.0, 65e3, 1.5e-9, 40e3, Estimate(0.0, 0.01, "dB"))


def _result(path: PathClass = "wired", *codes: ReasonCode, **change: Any) -> Result:
    base = Result(
        path=path,
        alternatives=(),
        power="bypass_position",
        grades=("wire-like",),
        bypass_position="a",
        certainty=0.9995,
        shunt=SHUNT,
        reasons=tuple(Reason(c, NUMBERS) for c in codes),
        would_tell=(),
        families=("mechanical",),
        series_ohm=Estimate(100.0, 150.0, "ohm"),
        plain=BOUNDS,
        consistent=("wire",),
        resistor=Estimate(1e5, 577.0, "ohm"),
        setup_c=Estimate(412e-12, 2.4e-12, "farad"),
    )
    return replace(base, **change)


WIRED = _result()
PULLDOWN = _result(
    "loaded",
    "shunt_resistance",
    grades=("light",),
    shunt=replace(
        SHUNT,
        c_farad=Estimate(19.2e-12, 0.357e-12, "farad"),
        g_siemens=Estimate(1e-6, 5.1e-9, "siemens"),
    ),
    consistent=("shunt",),
)
NETWORK = _result(
    "loaded", "lf_rise", "residual", grades=("heavy",), consistent=("coupled",),
    shunt=replace(SHUNT, g_siemens=Estimate(1 / 115e3, 1000 / 115e3**2, "siemens")),
    network=Network(
        Estimate(115e3, 1000.0, "ohm"), Estimate(22e-9, 1e-10, "farad"),
        Estimate(16e-12, 1.5e-12, "farad"), 0.001,
    ),
)  # fmt: skip
BUFFER = _result(
    "buffered", "negative_capacitance", "dead_without_power", power="never", grades=(),
    families=("electronic",), shunt=None, series_ohm=None, consistent=("buffer",),
    buffer=BufferInput(
        Estimate(1 / 510e3, 1.6e-8, "siemens"), Estimate(9e-12, 1e-12, "farad"),
        Estimate(-0.09, 0.005, "dB"), False,
    ),
)  # fmt: skip
PLAIN_ONLY = _result(
    "undecided", "no_resistor", alternatives=("wired", "loaded"), grades=(), certainty=0.99,
    shunt=None, excluded=("buffered", "converted"), would_tell=("resistor_runs",),
    series_ohm=None, consistent=(), resistor=None, setup_c=None,
    not_tested=("series_resistance", "line_load", "footswitch_noise", "flexing"),
)  # fmt: skip


@pytest.mark.parametrize("code", get_args(ReasonCode))
def test_every_reason_is_a_sentence(code: ReasonCode) -> None:
    """Each code has whole sentences."""
    text = reason_sentence(Reason(code, NUMBERS))
    assert re.fullmatch(r"[A-Z0-9-].*\.", text)
    assert "nan" not in text
    assert len(text) < 240


def test_tables_hold_every_code_and_no_other() -> None:
    """Reasons, runs that would tell, what was not tested, families: the tables are complete."""
    assert set(REASONS) == set(get_args(ReasonCode))
    assert set(WOULD_TELL) == set(get_args(TellCode))
    assert set(NOT_TESTED) == set(get_args(NotTestedCode))
    assert set(FAMILIES) == set(get_args(Family))


@pytest.mark.parametrize("path", get_args(PathClass))
@pytest.mark.parametrize("power", get_args(PowerClass))
def test_every_answer_is_at_most_three_sentences(path: PathClass, power: PowerClass) -> None:
    """Path, without power, how sure: never more, never empty, each a whole sentence."""
    result = _result(path, power=power, alternatives=(), grades=())
    sentences = result_sentences(result)
    assert 1 <= len(sentences) <= 3
    for sentence in sentences:
        assert re.fullmatch(r"[A-Z].*\.", sentence)
    assert len(" ".join(sentences)) < 330
    assert size_line(result)
    assert short_form(result, "X").count("\n") == 0


@pytest.mark.parametrize(
    ("result", "sentences"),
    [
        (
            WIRED,
            (
                "True bypass (hard-wired: in bypass the input goes straight to the output).",
                "Passes without power in the bypass position.",
                "All limits that these runs can tell are met, over 99.9 % sure; in to out is only "
                "known to be under 350 Ω.",
            ),
        ),
        (
            replace(WIRED, series_ohm=Estimate(0.5, 0.3, "ohm")),
            (
                "True bypass (hard-wired: in bypass the input goes straight to the output).",
                "Passes without power in the bypass position.",
                "All limits are met, over 99.9 % sure.",
            ),
        ),
        (
            PULLDOWN,
            (
                "Passive, not true bypass by the strict rule: 1.00 MΩ ± 0.01 and 19.2 pF ± 0.7 "
                "stay across the line in bypass.",
                "Passes without power in the bypass position.",
                "Over 99.9 % sure.",
            ),
        ),
        (
            NETWORK,
            (
                "Passive, loaded: about 115 kΩ through about 22 nF stays across the line in "
                "bypass, as the effect's input or a tone network does.",
                "Passes without power in the bypass position.",
                "Over 99.9 % sure.",
            ),
        ),
        (
            BUFFER,
            (
                "Active, buffered: in bypass the signal goes through a powered stage.",
                "Nothing passes without power.",
                "Over 99.9 % sure.",
            ),
        ),
        (
            PLAIN_ONLY,
            (
                "Cannot tell true bypass from a load left on the line.",
                "Passes without power in the bypass position.",
                "A buffered path and a digital path are excluded.",
            ),
        ),
        (
            _result("none", "same_as_reference"),
            (
                "None: every run equals the reference within 0.500 dB. A pedal does not do that; "
                "the coupler, the check cable or a digital return of the interface does.",
            ),
        ),
    ],
)
def test_result_sentences(result: Result, sentences: tuple[str, ...]) -> None:
    """The fixed sentences, word for word."""
    assert result_sentences(result) == sentences


def test_without_a_plain_run_a_part_in_line_is_named() -> None:
    """Through the resistor alone a part in line passes for a load, and that is said."""
    assert result_sentences(replace(PULLDOWN, plain=None, series_ohm=None))[-1] == (
        "Over 99.9 % sure; without a plain run a part in line could look the same."
    )


@pytest.mark.parametrize(
    ("certainty", "words"),
    [
        (0.9995, "Over 99.9 % sure."),
        (0.9991, "Over 99.9 % sure."),
        (0.998, "Over 99 % sure."),
        (0.97, "Over 95 % sure."),
        (0.92, "Over 90 % sure."),
        (0.7, "70 % sure."),
    ],
)
def test_how_sure_is_a_bound_that_is_kept(certainty: float, words: str) -> None:
    """A certainty is never rounded up."""
    assert result_sentences(replace(PULLDOWN, certainty=certainty))[-1] == words


@pytest.mark.parametrize(
    ("grades", "text"),
    [
        (("wire-like",), "wire-like"),
        (("light",), "light load"),
        (("light", "loading"), "light load or loading"),
        ((), "cannot be told from these runs"),
    ],
)
def test_size(grades: tuple[GradeName, ...], text: str) -> None:
    """One grade, two, or why none."""
    assert size_line(replace(WIRED, grades=grades)) == text


def test_as_on_a_meter() -> None:
    """Resolved values carry ±, unresolved ones are bounds, limits are met or not."""
    lines = meter_lines(WIRED)
    assert [(x.what, x.value, x.outcome) for x in lines] == [
        ("in to out", "under 350 Ω", "undecided"),
        ("tip to sleeve", "over 160 MΩ", "met"),
        ("tip to sleeve", "14.1 pF ± 0.7", "met"),
    ]
    assert lines[2].note == "= 14 ± 1 cm lead"
    assert [x.outcome for x in meter_lines(PULLDOWN)] == ["undecided", "not met", "met"]
    known = meter_lines(replace(WIRED, series_ohm=Estimate(0.5, 0.3, "ohm")))
    assert (known[0].value, known[0].outcome) == ("under 1.0 Ω", "met")


def test_a_meter_reads_open_behind_a_capacitor() -> None:
    """Where an ohmmeter would read something else it is said."""
    lines = meter_lines(NETWORK)
    assert lines[1].value == "115.0 kΩ ± 2.0"
    assert "ohmmeter reads open" in lines[1].note


def test_a_buffer_has_an_input_and_no_limits() -> None:
    """Input resistance, capacitance and gain; wire limits do not apply."""
    lines = meter_lines(BUFFER)
    assert [x.what for x in lines] == ["input", "input", "gain", "output"]
    assert (lines[0].value, lines[1].value) == ("510 kΩ ± 8", "9.0 pF ± 2.0")
    assert lines[2].value == "-0.09 dB ± 0.01"
    assert all(x.limit == "" for x in lines)


@pytest.mark.parametrize("pf", [0.3, -1.0, -0.2])
def test_below_what_the_setup_resolves_is_a_bound(pf: float) -> None:
    """A capacitance around zero is "under", never a value with a sign."""
    tiny = replace(SHUNT, c_farad=Estimate(pf * 1e-12, 0.5e-12, "farad"))
    value = meter_lines(replace(WIRED, shunt=tiny))[2].value
    assert re.fullmatch(r"under [\d.]+ [pf]+F", value)


def test_plain_lead_lines() -> None:
    """Without a resistor the screen says what was seen and what that excludes."""
    assert plain_lead_lines(PLAIN_ONLY) == (
        "Seen: level 0.000 dB ± 0.020, flat to 40 kHz.",
        "Excluded: in to out over 480 Ω; less than 65 kΩ across the line; more than 1.5 nF.",
    )
    assert plain_lead_lines(WIRED) == ()


@pytest.mark.parametrize(
    ("result", "claim", "word"),
    [
        (WIRED, "true bypass", "agrees"),
        (BUFFER, "True Bypass", "does not agree"),
        (BUFFER, "buffered bypass", "agrees"),
        (PULLDOWN, "true bypass", "does not agree"),
        (PLAIN_ONLY, "true bypass", "cannot be told from these runs"),
        (PLAIN_ONLY, "buffered", "does not agree"),
        (WIRED, "made of oak", "not compared"),
    ],
)
def test_claim(result: Result, claim: str, word: str) -> None:
    """What the owner believes is compared with what was found."""
    assert claim_line(result, claim) == f'"{claim}": {word}'


def test_no_claim_no_line() -> None:
    """Without a claim nothing is said about one."""
    assert claim_line(WIRED, "  ") == ""


def test_not_tested_and_would_tell() -> None:
    """What no run looked at is said, and what would settle it."""
    assert not_tested_line(PLAIN_ONLY).startswith("In to out in ohms, what stays across the line")
    assert not_tested_line(PLAIN_ONLY).endswith("One unit, one day.")
    assert would_tell_lines(PLAIN_ONLY)[0].startswith("five runs through one resistor")


def test_without_power_names_the_kinds() -> None:
    """The switching that fits is named; kinds that look the same are named together."""
    both = replace(WIRED, families=("mechanical", "relay_latching"))
    assert without_power(both) == (
        "Passes without power in the bypass position. Consistent with a mechanical switch or "
        "a latching relay; from outside these look the same."
    )


def test_short_form() -> None:
    """One line for a forum, with what the numbers rest on."""
    assert short_form(WIRED, "Harbour Bell") == (
        "Harbour Bell: true bypass, over 160 MΩ, 14.1 pF ± 0.7; passes unpowered in bypass. "
        "One unit, through 100 kΩ 1 %, setup 412 pF ± 5, ± 95 %."
    )


@pytest.mark.parametrize("result", [WIRED, PULLDOWN, NETWORK, BUFFER, PLAIN_ONLY])
def test_plain_writes_every_sign_out(result: Result) -> None:
    """For a small console every line is ASCII."""
    lines = [
        *result_sentences(result, plain=True),
        size_line(result, plain=True),
        without_power(result, plain=True),
        not_tested_line(result, plain=True),
        short_form(result, "X", plain=True),
        *evidence_lines(result, plain=True),
        *plain_lead_lines(result, plain=True),
        *would_tell_lines(result, plain=True),
        *(t for m in meter_lines(result, plain=True) for t in (m.value, m.limit, m.note)),
    ]
    for line in lines:
        assert line.isascii(), line


FORBIDDEN = re.compile(r"\b(shunt|node|nuisance|joint fit|certified|tone suck)\b", re.IGNORECASE)


def test_workshop_words_only() -> None:
    """Words of the trade's mathematics and of blame never reach the screen."""
    for code in get_args(ReasonCode):
        assert not FORBIDDEN.search(reason_sentence(Reason(code, NUMBERS)))
    for path in get_args(PathClass):
        assert not FORBIDDEN.search(" ".join(result_sentences(_result(path))))


@pytest.mark.parametrize(
    ("code", "numbers", "text"),
    [
        ("gain_offset", {"db": 0.907, "u_db": 0.0042}, "+0.907 dB ± 0.004"),
        ("gain_offset", {"db": -0.21, "u_db": 0.012}, "-0.210 dB ± 0.012"),
        ("delay", {"ms": 1.2345678, "u_ms": 2.7e-6}, "1.2345678 ms ± 0.0000027"),
        ("determinant_passive", {"det": 1.0002, "u_det": 1e-4}, "1.00020 ± 0.00020"),
    ],
)
def test_doubt_is_never_written_as_nothing(
    code: ReasonCode, numbers: dict[str, float | str], text: str
) -> None:
    """A value is written to the digits of its doubt, which is never rounded to zero."""
    assert text in reason_sentence(Reason(code, numbers))
