"""Names in pictures: all there, none on top of another, none cut off, as measured on the paper."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, zoom_sheet
from loopback.report.figures.levels import draw_insertion, draw_zoom
from loopback.report.figures.noise import draw_noise
from loopback.report.noise_source import noise_sheet
from loopback.verdict.passing import RunState
from tests.reference.invented_analysis import F_HZ, LONG_NAME, analysis, pedal_run, twelve_runs
from tests.reference.text_boxes import faults, texts

DRAWN = {
    "insertion": (insertion_sheet, draw_insertion),
    "zoom": (zoom_sheet, draw_zoom),
    "noise": (noise_sheet, draw_noise),
}
CASES = {
    "usual": analysis(),
    "twelve": analysis(pedal_runs=twelve_runs()),
    "long": analysis(
        LONG_NAME,
        pedal_runs=twelve_runs(),
        maker="An unreasonably long maker's name, by appointment",
        model="Model 4711, the one with the small knobs",
        supply="9 V from a battery that was nearly flat",
        mode="mode three of seven, all knobs at noon",
    ),
}


@pytest.mark.parametrize("name", sorted(DRAWN))
@pytest.mark.parametrize("case", sorted(CASES))
def test_no_text_touches_another_or_the_edge(name: str, case: str) -> None:
    """With long names and twelve runs every text keeps clear of all others and of the edge."""
    sheet_of, draw = DRAWN[name]
    assert faults(draw(sheet_of(CASES[case]))) == []


@pytest.mark.parametrize("case", sorted(CASES))
def test_every_curve_is_named(case: str) -> None:
    """Each run's number stands beside its curve, and the floor has its name."""
    source = CASES[case]
    figure = draw_insertion(insertion_sheet(source))
    written = [t.get_text() for t in texts(figure)]
    for facts in source.pedal_runs:
        assert sum(bool(re.match(rf"{facts.run.id}\*? o(n|ff), ", text)) for text in written) == 1
    assert sum(text.startswith("setup's own noise") for text in written) == 2


def test_text_is_readable_at_800_pixels() -> None:
    """Shown 800 pixels wide, no text of the usual picture is smaller than 7 pt of 100 dpi."""
    figure = draw_insertion(insertion_sheet(CASES["usual"]))
    assert figure.get_size_inches()[0] == 8.0
    assert min(t.get_fontsize() for t in texts(figure)) >= 7.0


def test_caption_says_what_where_and_when() -> None:
    """Pedal, day, setup, resistor and setup capacitance are burnt into the picture."""
    written = " ".join(t.get_text() for t in texts(draw_zoom(zoom_sheet(CASES["usual"]))))
    flat = " ".join(written.split())
    for part in ("Quarry Lamp", "25 Nov 2026", "simulated", "100 kΩ", "412 pF", "95 %", "-12 dBFS"):
        assert part in flat


def test_signs_in_names_are_letters() -> None:
    """A dollar sign or an underscore in a pedal's name is written, not read as mathematics."""
    name = "The $5 _Fuzz_ ^2 \\alpha"
    figure = draw_insertion(insertion_sheet(analysis(name)))
    FigureCanvasAgg(figure).draw()
    assert any(name in t.get_text() for t in texts(figure))


def test_curve_off_the_scale_is_named_with_an_arrow() -> None:
    """A bypass that lies wholly outside has its name, and triangles, on the side it left on.

    What is not in bypass is named in the caption alone, wherever it lies.
    """
    labels = [facts.run.label for facts in CASES["usual"].pedal_runs]
    source: Analysis = analysis(
        pedal_runs=(
            pedal_run(2, labels[1], np.full(F_HZ.shape, 14.0)),
            pedal_run(3, labels[2], np.full(F_HZ.shape, -30.0)),
            pedal_run(4, labels[1], np.full(F_HZ.shape, 0.3)),
            pedal_run(5, labels[0], np.full(F_HZ.shape, 0.2)),
        )
    )
    figure = draw_zoom(zoom_sheet(source))
    written = sorted(t.get_text() for t in texts(figure))
    ends = [text[-1] for text in written if text[:3] in ("02*", "03*", "04*")]
    assert ends[:2] == ["↑", "↓"]
    assert ends[2] not in "↑↓"
    signs = {
        (str(line.get_marker()), float(np.asarray(line.get_ydata())[0]))
        for line in figure.axes[0].lines
        if line.get_linestyle() == "None" and not line.get_clip_on()
    }
    assert signs == {("^", 1.0), ("v", -1.0)}
    assert not any(text.startswith("05") for text in written)
    assert "Not drawn: 05 on, as found, 100 kΩ." in zoom_sheet(source).caption


def test_label_says_which_run_is_bypass() -> None:
    """Runs in the position that the data found to be bypass have a star, others have none."""
    names = [curve.label for curve in insertion_sheet(CASES["usual"]).curves]
    assert [("*" in name) for name in names] == [False, True, True, False, True, True]
    assert names[1] == "03* on, pressed, 100 kΩ"


@pytest.mark.parametrize("state", ["open", "short"])
def test_zoom_leaves_out_what_does_not_pass(state: RunState) -> None:
    """What leaks past a dead path covers the zoom; without any run that passes there is no zoom."""
    runs = tuple(replace(facts, state=state) for facts in CASES["usual"].pedal_runs)
    sheet = zoom_sheet(replace(CASES["usual"], pedal_runs=runs))
    assert sheet.empty
    assert sheet.caption.count("100 kΩ") >= len(runs) - 2


def test_zoom_without_a_known_bypass_shows_what_is_near_the_cable() -> None:
    """Nothing is called bypass then, so that what lies within the scale is what can be seen."""
    source = CASES["usual"]
    result = replace(source.result, bypass_position=None)
    label = source.pedal_runs[0].run.label
    near, far = (pedal_run(n, label, np.full(F_HZ.shape, db)) for n, db in ((2, 0.2), (3, 9.0)))
    sheet = zoom_sheet(replace(source, result=result, pedal_runs=(near, far)))
    assert [curve.label[:2] for curve in sheet.curves] == ["02"]
    assert "Not drawn: 03" in sheet.caption
