"""The live meter without a rig: what stands still, what drops out, how it is written."""

from __future__ import annotations

import csv
import math
from io import StringIO

import numpy as np
import pytest

from loopback.errors import DocumentError
from loopback.meter.lines import (
    LOG_HEADER,
    capacitance,
    closing_line,
    held_line,
    log_row,
    reading_line,
    resistance,
)
from loopback.meter.listen import hear
from loopback.meter.reading import Reading
from loopback.meter.steadiness import WINDOW_S, Watch, holding, watched
from loopback.quantity import Estimate
from loopback.report.symbols import plain_signs
from loopback.response.sweeps import sweep_kernel
from loopback.signal.sheet import decode_sheet, encode_sheet, sheet_of, signal_problem
from loopback.signal.take import layout_of, plan_signal, render_take, short_signal

STEP_S = 0.5


def _reading(number: int, c_pf: float | None, g_ns: float = 1.0) -> Reading:
    if c_pf is None:
        return Reading(number * STEP_S, None, None, -60.0, False)
    c = Estimate(c_pf * 1e-12, 0.6e-12 + 0.006e-12 * abs(c_pf), "farad")
    return Reading(number * STEP_S, c, Estimate(g_ns * 1e-9, 3.6e-9, "siemens"), -0.2, False)


def _after(*values: float | None) -> Watch:
    watch = Watch()
    for number, value in enumerate(values, start=1):
        watch = watched(watch, _reading(number, value))
    return watch


def test_three_that_agree_are_steady() -> None:
    """Two readings are not enough; the third that agrees makes a value."""
    assert _after(287.0, 287.1).word == "waiting"
    assert _after(287.0, 287.1, 287.0).word == "steady"


def test_a_lead_that_comes_and_goes_is_counted() -> None:
    """A stay elsewhere that ends where it began is one drop-out, however many readings it took."""
    watch = _after(287, 287, 287, 12, 287, 287, 12, None, 287, 287)
    assert watch.word == "drops out"
    assert len(watch.drops_s) == 2
    assert watch.span_farad == (pytest.approx(287e-12), pytest.approx(12e-12))
    assert "drops out 2 times in 10 s" in reading_line(watch.readings[-1], watch)
    assert reading_line(watch.readings[-1], watch).startswith("287 ... 12 pF")


def test_something_else_plugged_begins_anew() -> None:
    """Three readings that agree elsewhere are a new part, and no drop-out."""
    watch = _after(287, 287, 287, 100, 100, 100)
    assert watch.word == "steady"
    assert watch.drops_s == ()
    assert watch.value_farad == pytest.approx(100e-12)
    gone = _after(287, 287, 287, None, None, None)
    assert gone.word == "nothing"
    assert gone.value_farad is None


def test_old_drop_outs_are_forgotten() -> None:
    """What happened longer ago than the window no longer counts."""
    quiet = [287.0] * (int(WINDOW_S / STEP_S) + 2)
    watch = _after(287, 287, 287, 12, *quiet)
    assert watch.drops_s == ()
    assert watch.word == "steady"
    assert len(watch.readings) <= WINDOW_S / STEP_S + 1


def test_warming_drifts_and_a_loose_lead_moves() -> None:
    """A value that goes one way drifts; one that goes both ways by more than its doubt moves."""
    assert _after(*np.arange(300.0, 312.0, 1.0)).word == "drifts"
    assert _after(300, 306, 300, 306, 300, 306).word == "moves"


def test_hold_keeps_one_reading_and_lets_go() -> None:
    """H keeps the latest in view while others come; H again lets go; nothing is no matter."""
    watch = holding(_after(100, 100, 100))
    later = watched(watch, _reading(4, 300.0))
    assert later.held is watch.readings[-1]
    assert held_line(watch.readings[-1]).endswith("held")
    assert holding(later).held is None
    assert holding(Watch()).held is None


@pytest.mark.parametrize(
    ("value_pf", "u_pf", "text"),
    [
        (287.4, 1.8, "287 pF ± 4"),
        (14.12, 0.36, "14.1 pF ± 0.7"),
        (0.2, 0.6, "under 1.4 pF"),
        (-0.2, 0.6, "under 1.4 pF"),
        (-386.0, 2.3, "-386 pF ± 5"),
        (1500.0, 9.0, "1.500 nF ± 0.018"),
    ],
)
def test_capacitance_as_written(value_pf: float, u_pf: float, text: str) -> None:
    """Resolved values have an interval, others a bound that is never too small."""
    assert capacitance(Estimate(value_pf * 1e-12, u_pf * 1e-12, "farad")) == text


@pytest.mark.parametrize(
    ("g_ns", "u_ns", "text"),
    [
        (1000.0, 6.0, "1.000 MΩ ± 0.012"),
        (8695.0, 50.0, "115.0 kΩ ± 1.3"),
        (3.0, 3.6, "over 99 MΩ"),
        (-5.0, 3.6, "over 140 MΩ"),
        (9.9, 3.6, "over 58 MΩ"),
    ],
)
def test_resistance_as_written(g_ns: float, u_ns: float, text: str) -> None:
    """A conductance below zero gives no larger bound than none; a bound is rounded down."""
    assert resistance(Estimate(g_ns * 1e-9, u_ns * 1e-9, "siemens")) == text


@pytest.mark.parametrize(
    "watch",
    [_after(287, 287, 287, 12, 287, 12, 287), _after(None, None), _after(-386, -386, -386)],
)
def test_lines_fit_the_screen(watch: Watch) -> None:
    """Any line, with its time before it and signs written out, has at most 80 columns."""
    line = reading_line(watch.readings[-1], watch)
    assert len(plain_signs(f"{9999.5:7.1f} s   {line}")) <= 80


def test_a_buffer_and_a_bad_zero_are_told_apart() -> None:
    """Far below zero a stage took the lead away; a little below, zero was taken on something."""
    assert "less than at zero" in reading_line(_reading(3, -386), _after(-386, -386, -386))
    assert "buffer" in closing_line(_after(-386, -386, -386))
    assert "Zero again" in closing_line(_after(-9, -9, -9))
    assert "3.00 m ± 0.05 of lead" in closing_line(_after(300, 300, 300))
    assert closing_line(_after(14, 14, 14)) == ""


def test_log_rows_match_their_header() -> None:
    """Every row has as many entries as the header, empty ones where nothing passed."""
    out = StringIO()
    writer = csv.writer(out)
    for values in ((100, 100, 100), (100, None)):
        watch = _after(*values)
        writer.writerow(log_row(watch.readings[-1], watch))
    rows = list(csv.reader(StringIO(out.getvalue())))
    assert [len(row) for row in rows] == [len(LOG_HEADER)] * 2
    assert float(rows[0][1]) == pytest.approx(100e-12)
    assert rows[1][1:5] == [""] * 4


def test_short_signal_is_short_and_stays_out_of_documents() -> None:
    """One sweep in step from 20 Hz in under half a second; a document with it is refused.

    Documents of ordinary signals do not name the field.
    """
    signal = short_signal(48_000, -18.0)
    layout = layout_of(signal)
    assert [s.name for s in layout.segments] == ["lead", "up", "tail"]
    assert layout.tones == ()
    assert 0.3 < layout.length / 48_000 < 0.5
    assert (signal.f1_hz * signal.constant_s).is_integer()
    assert np.max(np.abs(render_take(signal))) == pytest.approx(10 ** (-18 / 20), rel=1e-3)
    problem = signal_problem(signal)
    assert problem is not None
    assert problem[0] == "short"
    assert b"short" not in encode_sheet(sheet_of(plan_signal(48_000, 2.0)))
    with pytest.raises(DocumentError, match="live readings"):
        decode_sheet(encode_sheet(sheet_of(signal)), "x")


@pytest.mark.parametrize("late", [0, 1, 480, 9600])
def test_a_sweep_is_heard_wherever_it_lies(late: int) -> None:
    """A wire of -6 dB reads -6 dB and its delay, to 1e-6, up to a fifth of a second late."""
    signal = short_signal(48_000)
    take = 0.5 * render_take(signal)
    samples = np.concatenate([np.zeros(late), take, np.zeros(9600)])
    heard = hear(samples, signal)
    use = (sweep_kernel(signal).f_hz > 40) & (sweep_kernel(signal).f_hz < 20e3)
    assert heard.delay_s == pytest.approx(late / 48_000, abs=1e-8)
    np.testing.assert_allclose(np.abs(heard.h[use]), 0.5, atol=2e-6)
    assert not heard.clipped
    assert math.isclose(heard.peak, float(np.max(np.abs(take))))
