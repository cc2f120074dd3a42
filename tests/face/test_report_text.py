"""The result on one screen: its order, its width, its length, and what it does not say."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import get_args

import pytest

from loopback.facts import Analysis
from loopback.quality.finding import Finding
from loopback.quantity import Estimate
from loopback.report.cable_lines import decibels, rounded_up
from loopback.report.layout import columns
from loopback.report.numbers import every_number
from loopback.report.text import MOST_LINES, all_evidence, result_screen, short_line
from loopback.verdict.codes import TellCode
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import compare_expected
from loopback.verdict.result import PathClass, PowerClass, Reason
from tests.reference.invented_analysis import LONG_NAME, analysis, pulldown_result, twelve_runs

ORDER = (
    "Result", "Size", "As on a meter", "Plain lead", "Against cable", "For a player",
    "Consistent with", "Known from", "Without power", "Claim", "Expected", "Noticed", "Not tested",
    "Would tell", "Next",
)  # fmt: skip
OPEN_ORDER = (*ORDER[:4], "Would tell", *ORDER[4:-2], "Next")
"""Where nothing was decided, the run that would decide comes first."""
FINDINGS = tuple(
    Finding(
        code, grade, "37 samples at full scale",
        "The recording is clipped, so that level and harmonics of this take mean nothing at all.",
        "Turn the output down by 6 dB and repeat the run.", f"0{number}/1",
    )
    for number, (code, grade) in enumerate(
        (("clipped", "refuse"), ("clipped", "refuse"), ("hum", "look"), ("drift", "look")), start=1
    )
)  # fmt: skip


def headings(screen: str) -> list[str]:
    return [h for line in screen.splitlines()[1:] if (h := line[:15].strip()) in ORDER]


def with_path(path: PathClass, power: PowerClass = "bypass_position") -> Analysis:
    """A result of that class with everything that makes a screen long."""
    undecided = path in ("undecided", "none")
    result = replace(
        pulldown_result(),
        path=path,
        power=power,
        alternatives=("wired", "loaded") if undecided else (),
        certainty=None if undecided else 0.97,
        would_tell=get_args(TellCode)[:5],
        not_tested=("footswitch_noise", "flexing", "series_resistance", "without_power", "delay"),
    )
    return analysis(LONG_NAME, result, FINDINGS, claim="true bypass, as the label says")


@pytest.mark.parametrize("signs", [True, False])
@pytest.mark.parametrize("path", get_args(PathClass))
@pytest.mark.parametrize("power", get_args(PowerClass))
def test_screen_is_small_and_in_order(path: PathClass, power: PowerClass, signs: bool) -> None:
    """Whatever the result: 80 columns, 20 lines, the same order, and commands at the end."""
    screen = result_screen(with_path(path, power), "lamp", signs=signs)
    lines = screen.splitlines()
    assert max(len(line) for line in lines) <= 80
    assert len(lines) <= MOST_LINES
    found = headings(screen)
    order = OPEN_ORDER if path == "undecided" else ORDER
    assert found == [name for name in order if name in found]
    assert path != "undecided" or "Would tell" in found
    assert {"Result", "Size", "Without power", "Not tested", "Next"} <= set(found)
    commands = [line.strip() for line in screen.split("\nNext")[1].splitlines()]
    assert commands[-1] == "loopback guide resistor-lead"
    assert commands[:-1] in (["loopback show lamp --all"], [])
    assert all(line == line.rstrip() for line in lines)
    assert signs or screen.isascii()


def test_next_names_the_lead_only_where_it_is_missing() -> None:
    """Whoever has a resistor lead is shown the pictures, whoever has none how to make it."""
    ends = {
        code: result_screen(
            analysis(result=replace(pulldown_result(), would_tell=(code,))), "lamp", signs=True
        ).split("\nNext")[1]
        for code in ("resistor_runs", "check_cable")
    }
    assert "loopback guide resistor-lead" in ends["resistor_runs"]
    assert "loopback guide" not in ends["check_cable"]
    assert "loopback plot lamp" in ends["check_cable"]


def test_screen_says_level_treble_and_noise() -> None:
    """Against the cable: both feeds with their own level and treble, noise and polarity."""
    screen = result_screen(analysis(), "lamp", signs=True)
    assert re.search(r"plain lead +same within 0\.\d+ dB +same within 0\.\d+ dB", screen)
    assert re.search(r"through 100 kΩ +-0\.7\d+ dB ± 0\.0\d+ +\+0\.\d+ dB ± 0\.\d+", screen)
    assert "noise same within 0.50 dB (A-weighted); polarity kept" in screen
    assert "20 kHz over 1 kHz" in screen


def test_screen_speaks_of_bypass_with_power() -> None:
    """Of several runs of a feed the powered one in bypass is shown, never the engaged effect."""
    source = analysis()
    changed = tuple(
        replace(facts, level=Estimate(float(facts.run.id), 0.001, "dB"))
        for facts in source.pedal_runs
    )
    screen = result_screen(replace(source, pedal_runs=changed), "lamp", signs=True)
    assert "+9.000 dB ± 0.002" in screen
    assert "+3.000 dB ± 0.002" in screen
    assert not re.search(r"\+(2|4|5|8)\.000 dB", screen)


def test_unknown_bypass_shows_no_run() -> None:
    """Where the data do not say which position is bypass, no run is passed off as bypass."""
    result = replace(pulldown_result(), path="undecided", bypass_position=None, certainty=None)
    assert "Against cable" not in result_screen(analysis(result=result), "lamp", signs=True)


def test_worst_finding_comes_first_and_the_rest_is_counted() -> None:
    """A refusal precedes a remark, one of a kind is written out, and none gets lost."""
    result = replace(pulldown_result(), families=())
    screen = result_screen(analysis(result=result, findings=FINDINGS[::-1]), "lamp", signs=True)
    noticed = " ".join(screen.split("Noticed")[1].split("Not tested")[0].split())
    assert noticed.startswith("! run 0")
    assert noticed.count("37 samples at full scale") == 1
    assert noticed.endswith("3 more findings with --all")


def test_good_findings_are_not_on_the_screen() -> None:
    """What is good needs no line; it is found with --all."""
    good = Finding("hum", "good", "9 dB above the noise", "Mains is low.", where="01/1")
    source = analysis(findings=(good,))
    assert "Noticed" not in result_screen(source, "lamp", signs=True)
    assert "good" in every_number(source, signs=True)


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (-0.74, 0.0153, "-0.74 dB ± 0.03"),
        (0.5, 0.1, "+0.50 dB ± 0.20"),
        (0.001, 0.01, "same within 0.021 dB"),
        (0.0, 0.0, "same within 0.001 dB"),
        (-13.154, 0.0001, "-13.154 dB ± 0.001"),
    ],
)
def test_differences_below_the_doubt_are_none(value: float, u: float, text: str) -> None:
    """By hand: 1.96 u on each side, rounded with the value; a bound is never rounded down."""
    assert decibels(Estimate(value, u, "dB")) == text


@pytest.mark.parametrize("value", [0.0, 2e-5, 0.0123, 0.999, 1.0, 1.01, 9.99, 37.2, 0.02, 123.4])
def test_bounds_are_rounded_up(value: float) -> None:
    """A bound in print is at least the bound, and at most a tenth or a thousandth above it."""
    printed = float(rounded_up(value))
    assert value <= printed <= value * 1.1 + 0.001


def test_every_number_of_every_run_is_there() -> None:
    """All runs, all corner frequencies, noise with its interval, the shunt as computed."""
    source = analysis(pedal_runs=twelve_runs(), findings=FINDINGS)
    text = every_number(source, signs=True)
    for facts in (*source.references, *source.pedal_runs):
        assert len(re.findall(rf"^Run {facts.run.id}\*? ", text, re.MULTILINE)) == 1
    for part in (
        "-0.1 dB",
        "-1 dB",
        "-3 dB",
        "none up to 22.5 kHz",
        "19.2 pF ± 0.7",
        "1.00 µS ± 0.01",
    ):
        assert part in text
    assert text.count("against run 01 and 06") == len(source.pedal_runs)
    assert max(len(line) for line in text.splitlines()) <= 80


def test_unusable_run_says_so() -> None:
    """A run of which nothing can be used is listed with that, not left out."""
    source = analysis()
    broken = replace(source.pedal_runs[0], response=None, ratio=None, level=None, treble=())
    text = every_number(replace(source, pedal_runs=(broken,)), signs=True)
    assert "no take of it could be used" in text
    screen = result_screen(replace(source, pedal_runs=(broken,)), "lamp", signs=True)
    assert "2 of 3 runs usable" in screen


def test_short_line_has_pedal_result_and_day() -> None:
    """One line for a ticket."""
    line = short_line(analysis())
    assert line.startswith("Quarry Lamp: passive, loaded")
    assert "\n" not in line
    assert line.endswith("25 Nov 2026.")


def test_all_evidence_is_written() -> None:
    """Every reason of the result has its sentence."""
    result = replace(pulldown_result(), reasons=(Reason("inverted", {}), Reason("no_resistor", {})))
    text = all_evidence(analysis(result=result), signs=True)
    assert len(text.split("Known from")[1].strip().splitlines()) >= 2


def test_an_expectation_is_on_the_screen() -> None:
    """Each line of it with its outcome, and how the whole stands."""
    source = analysis()
    sheet = Expectation(true_bypass=True, pulldown=1e6, most_capacitance=30e-12)
    source = replace(source, expected=compare_expected(sheet, source.result))
    screen = " ".join(result_screen(source, "lamp", signs=True).split())
    assert (
        "Expected Not as expected: true bypass. true bypass: not met (met if a pulldown is "
        "allowed: allow_pulldown = true); 1.0 MΩ across the line: met; at most 30 pF: met" in screen
    )


def test_an_entry_that_ends_its_line_does_not_widen_the_column() -> None:
    """Nothing stands to the right of it, so the other lines keep their place."""
    table = [("in to out", "1 ohm", "limit 10 ohm", ""), ("tip to sleeve", "not resolved", "", "")]
    assert columns(table, signs=True).splitlines() == [
        "in to out      1 ohm  limit 10 ohm",
        "tip to sleeve  not resolved",
    ]
