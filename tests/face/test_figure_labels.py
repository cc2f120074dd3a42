"""Names in pictures: all there, none on top of another, none cut off, as measured on the paper."""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, zoom_sheet
from loopback.report.figures.frame import drawing_style
from loopback.report.figures.insertion import draw_insertion
from loopback.report.figures.noise import draw_noise
from loopback.report.figures.zoom import draw_zoom
from loopback.report.noise_source import noise_sheet
from tests.reference.invented_analysis import F_HZ, LONG_NAME, analysis, pedal_run, twelve_runs

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


def texts(figure: Figure) -> list[Text]:
    """Every text that shows something."""
    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


def boxes(figure: Figure) -> list[tuple[str, np.ndarray]]:
    """Text and corners in pixels, as they come to lie on the paper."""
    canvas = FigureCanvasAgg(figure)
    with drawing_style():
        canvas.draw()
        renderer = canvas.get_renderer()
        # Text's own extent: that of an annotation would take the line to its point along.
        found = [(t.get_text(), Text.get_window_extent(t, renderer)) for t in texts(figure)]
    return [(text, np.array([b.x0, b.y0, b.x1, b.y1])) for text, b in found]


def overlap(a: np.ndarray, b: np.ndarray) -> bool:
    return bool(min(a[2], b[2]) - max(a[0], b[0]) > 0.5 and min(a[3], b[3]) - max(a[1], b[1]) > 0.5)


@pytest.mark.parametrize("name", sorted(DRAWN))
@pytest.mark.parametrize("case", sorted(CASES))
def test_no_text_touches_another_or_the_edge(name: str, case: str) -> None:
    """With long names and twelve runs every text keeps clear of all others and of the edge."""
    sheet_of, draw = DRAWN[name]
    figure = draw(sheet_of(CASES[case]))
    width, height = figure.get_size_inches() * figure.dpi
    placed = boxes(figure)
    for text, box in placed:
        assert box[0] >= 0, text
        assert box[1] >= 0, text
        assert box[2] <= width, text
        assert box[3] <= height, text
    touching = [(a[0], b[0]) for a, b in combinations(placed, 2) if overlap(a[1], b[1])]
    assert touching == []


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
    """A curve that lies wholly outside still has its name, with the direction it left in."""
    labels = [facts.run.label for facts in CASES["usual"].pedal_runs]
    source: Analysis = analysis(
        pedal_runs=(
            pedal_run(2, labels[0], np.full(F_HZ.shape, 14.0)),
            pedal_run(3, labels[1], np.full(F_HZ.shape, -30.0)),
            pedal_run(4, labels[2], np.full(F_HZ.shape, 0.3)),
        )
    )
    written = sorted(t.get_text() for t in texts(draw_zoom(zoom_sheet(source))))
    ends = [text[-1] for text in written if text[:2] in ("02", "03", "04")]
    assert ends[:2] == ["↑", "↓"]
    assert ends[2] not in "↑↓"


def test_label_says_which_run_is_bypass() -> None:
    """Runs in the position that the data found to be bypass have a star, others have none."""
    names = [curve.label for curve in insertion_sheet(CASES["usual"]).curves]
    assert [("*" in name) for name in names] == [False, True, True, False, True, True]
    assert names[1] == "03* on, pressed, 100 kΩ"
