"""Pictures keep the aspect ratios of IEC 60263:2020, 4.1, and fixed axes with units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, zoom_sheet
from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import ALLOWED_DB_PER_DECADE
from loopback.report.figures.levels import draw_insertion, draw_zoom
from loopback.report.figures.noise import draw_noise
from loopback.report.noise_source import noise_sheet
from tests.reference.invented_analysis import LONG_NAME, analysis, twelve_runs

Drawn = tuple[Callable[[Analysis], Sheet], Callable[[Sheet], Figure]]
PRESCRIBED: dict[str, Drawn] = {
    "insertion": (insertion_sheet, draw_insertion),
    "noise": (noise_sheet, draw_noise),
}
ALL: dict[str, Drawn] = {**PRESCRIBED, "zoom": (zoom_sheet, draw_zoom)}


def drawn(name: str, source: Analysis) -> Figure:
    sheet_of, draw = ALL[name]
    return draw(sheet_of(source))


def db_per_decade(figure: Figure) -> float:
    """Decibels that are as long on the paper as one decade, from the positions of four points."""
    axes = figure.axes[0]
    points = axes.transData.transform([(100, 0), (1000, 0), (100, -10)])
    decade = points[1][0] - points[0][0]
    return float(10 * decade / (points[0][1] - points[2][1]))


def test_allowed_ratios_are_the_standards() -> None:
    """IEC 60263:2020, 4.1: one decade is as long as 10, 20, 25 or 50 dB."""
    assert set(ALLOWED_DB_PER_DECADE) == {10.0, 20.0, 25.0, 50.0}


@pytest.mark.parametrize("name", sorted(PRESCRIBED))
@pytest.mark.parametrize("title", ["Bell", LONG_NAME])
def test_one_decade_is_as_long_as_50_db(name: str, title: str) -> None:
    """The ratio holds on the finished paper, however much the title and the caption need."""
    figure = drawn(name, analysis(title, maker="A workshop by the quay", supply="9 V, battery"))
    assert db_per_decade(figure) == pytest.approx(50.0, rel=1e-6)


def test_expanded_scale_says_so() -> None:
    """The zoom keeps none of the ratios, and its axis says that it is expanded."""
    figure = drawn("zoom", analysis())
    assert all(abs(db_per_decade(figure) / r - 1) > 0.5 for r in ALLOWED_DB_PER_DECADE)
    assert "expanded" in figure.axes[0].get_ylabel()


@pytest.mark.parametrize("name", sorted(ALL))
def test_axes_are_fixed_and_carry_units(name: str) -> None:
    """Two quite different pedals get the same axes, with quantity and unit on both."""
    one, other = drawn(name, analysis()), drawn(name, analysis(pedal_runs=twelve_runs()))
    for figure in (one, other):
        axes = figure.axes[0]
        assert axes.get_xlabel() == "frequency / Hz"
        assert " / dB" in axes.get_ylabel()
        assert axes.get_xlim() == (10.0, 40_000.0)
    assert one.axes[0].get_ylim() == other.axes[0].get_ylim()


@pytest.mark.parametrize("name", ["insertion", "zoom"])
def test_floor_and_band_are_drawn(name: str) -> None:
    """The setup's floor and the uncertainty band of every curve are areas in the picture."""
    source = analysis()
    sheet = ALL[name][0](source)
    figure = ALL[name][1](sheet)
    assert len(sheet.floors) == 2
    assert len(figure.axes[0].collections) == len(sheet.curves) + len(sheet.floors)
    bare = replace(sheet, floors=(), curves=())
    assert len(ALL[name][1](bare).axes[0].collections) == 0


def test_band_is_the_95_percent_interval() -> None:
    """Noise and gain doubt add in squares (JCGM 100:2008, 5.1.2); by hand at one point."""
    source = analysis()
    curve = insertion_sheet(source).curves[1]
    ratio = source.pedal_runs[1].ratio
    assert ratio is not None
    assert curve.half_width_db is not None
    size = abs(ratio.t[100])
    along = 20 / np.log(10) * np.sqrt(1e-8 / 2) / size
    by_hand = 1.959964 * np.sqrt(along**2 + 0.002**2)
    assert curve.half_width_db[100] == pytest.approx(by_hand, rel=1e-5)
    assert curve.level_db[100] == pytest.approx(20 * np.log10(size), abs=1e-9)


def test_noise_curve_of_white_noise_is_flat_at_its_density() -> None:
    """A white density of 3e-15 full scale squared per hertz is -142.2 dBFS in 1 Hz everywhere."""
    curve = noise_sheet(analysis()).curves[-1]
    assert np.allclose(curve.level_db, 10 * np.log10(2 * 3e-15), atol=1e-9)
    assert curve.f_hz[0] >= 10.0
    assert curve.f_hz[-1] <= 25_000.0


def test_zone_is_what_the_floor_does_to_a_level() -> None:
    """By hand: a difference of -60 dB beside a level of 0 dB changes it by 0.0086816 dB."""
    source = analysis()
    runs = tuple(
        replace(facts, ratio=replace(facts.ratio, floor_db=np.full(facts.ratio.f_hz.shape, -60.0)))
        for facts in source.pedal_runs
        if facts.ratio is not None
    )
    for zone in zoom_sheet(replace(source, pedal_runs=runs)).floors:
        assert np.allclose(zone.level_db, 0.0086816, atol=1e-7)
        assert zone.label.endswith("±0.009 dB")


def test_quietest_run_shows_the_floor() -> None:
    """An engaged effect with noise of its own does not lift the floor that is drawn."""
    source = analysis()
    noisy = source.pedal_runs[0]
    assert noisy.ratio is not None
    loud = replace(noisy, ratio=replace(noisy.ratio, var=noisy.ratio.var * 1e4))
    lifted = replace(source, pedal_runs=(loud, *source.pedal_runs[1:]))
    for one, other in zip(
        insertion_sheet(source).floors, insertion_sheet(lifted).floors, strict=True
    ):
        assert np.array_equal(one.level_db, other.level_db)
