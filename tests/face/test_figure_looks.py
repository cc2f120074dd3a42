"""Every picture in every look, with the names that people give: nothing clipped, all apart."""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from loopback.errors import ArgumentError
from loopback.report.curve_source import insertion_sheet
from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import Look
from loopback.report.figures.levels import draw_insertion
from loopback.report.figures.overlay import MOST_NAMED, Trace, overlay_curves
from loopback.report.figures.palette import DARK, LIGHT, THEMES
from loopback.report.figures.presses import draw_presses
from loopback.report.figures.writing import png_bytes
from loopback.report.harmonics_source import harmonics_sheet
from loopback.report.noise_source import noise_sheet
from loopback.report.pictures import (
    PICTURES,
    draw_picture,
    picture_pair,
    picture_svg,
    pictures_of,
    write_pictures,
)
from loopback.report.press_source import press_sheet
from tests.reference.invented_analysis import analysis
from tests.reference.invented_pictures import shown_analysis
from tests.reference.text_boxes import faults, texts

NAMES = {
    "wide": "W" * 80,
    "words": "The Exceedingly Patient Lighthouse Keeper's Second Favourite Overdrive, mark 12 b",
    "right to left": "פדל העיוות הישן של הדוד מהנמל הצפוני, גרסה שלישית עם שני כפתורים ומתג אחד",
    "far": "雷電ファズ・オーバードライブ二号改 " * 4,
    "hostile": "<script>&\"'\n\u202e\x1b[31m]]></svg><!-- $x_1$ \\alpha --> 🎸",
}
SVG = "{http://www.w3.org/2000/svg}"
F_HZ = np.geomspace(10.0, 21_800.0, 480)


@pytest.mark.parametrize(
    ("picture", "name", "size"),
    [(picture, "wide", size) for picture in PICTURES for size in ("web", "slide")]
    + [("insertion", name, "web") for name in sorted(NAMES)]
    + [("presses", name, "slide") for name in sorted(NAMES)],
)
def test_no_word_is_clipped_and_none_touches_another(picture: str, name: str, size: str) -> None:
    """Measured by the renderer, in both sizes, for the longest and strangest names."""
    figure = draw_picture(shown_analysis(NAMES[name]), picture, Look(DARK, size))
    assert faults(figure) == []


@pytest.mark.parametrize("unit", ["V", "FS"])
@pytest.mark.parametrize("heard", [0, 1, 150])
def test_presses_of_any_number_and_unit(unit: str, heard: int) -> None:
    """None, one, many: words stay apart, every press has a dot, every direction its silence."""
    sheet = press_sheet(shown_analysis(unit=unit, heard=heard))
    figure = draw_presses(sheet)
    assert faults(figure) == []
    dots = [line for line in figure.axes[2].lines if str(line.get_gid()).startswith("presses")]
    assert sum(len(np.asarray(line.get_xdata())) for line in dots) == heard
    words = " ".join(t.get_text() for t in texts(figure))
    assert words.count("silence, effect") + words.count("no press heard, silence") == 2


def test_press_peaks_are_where_the_axis_says() -> None:
    """A peak of 40 mV lies at log10(0.04) between the decades that are written there."""
    sheet = press_sheet(shown_analysis())
    axes = draw_presses(sheet).axes[2]
    written = {float(tick): text.get_text() for tick, text in zip(
        axes.get_yticks(), axes.get_yticklabels(), strict=True
    )}  # fmt: skip
    assert written[-3.0] == "1 m"
    assert written[0.0] == "1"
    dots = next(line for line in axes.lines if line.get_gid() == "presses-0")
    assert np.asarray(dots.get_ydata())[0] == pytest.approx(np.log10(0.04), abs=1e-9)
    assert axes.get_ylim() == (-5, 1)


def test_worst_presses_share_one_scale_and_keep_their_peaks() -> None:
    """A course of 40 mV and one of 2 mV: both axes end at 50 mV, and the first is drawn in full."""
    one, other, _ = draw_presses(press_sheet(shown_analysis())).axes
    assert one.get_ylim() == other.get_ylim() == (-50.0, 50.0)
    top = max(float(path.vertices[:, 1].max()) for c in one.collections for path in c.get_paths())
    assert top == pytest.approx(40.1, abs=1.0)


@pytest.mark.parametrize("count", [2, 8, 9, 40])
@pytest.mark.parametrize("size", ["web", "slide"])
def test_overlay_names_eight_and_counts_the_rest(count: int, size: str) -> None:
    """Curves on top of one another, with names of 80 letters: eight are named, the rest counted."""
    named = [
        (f"{number:02d} {'Lighthouse Keeper ' * 4}v{number}", Trace(F_HZ, np.zeros(F_HZ.shape)))
        for number in range(count)
    ]
    curves = overlay_curves(named)
    assert len(curves) == count
    figure = draw_insertion(Sheet("All", "One day.", curves, ()), Look(LIGHT, size))
    assert faults(figure) == []
    words = [t.get_text() for t in texts(figure)]
    for number in range(min(count, MOST_NAMED)):
        assert sum(word.startswith(f"{number:02d} L") for word in words) == 1
        assert any(f"v{number}" in word for word in words)
    more = [word for word in words if "in grey" in word]
    assert more == (
        [] if count <= 8 else ["one more, in grey"] if count == 9 else ["32 more, in grey"]
    )


def test_overlay_tells_eight_apart_and_keeps_places() -> None:
    """No two of eight have ink and dashes alike; one without a curve leaves the others alone."""
    trace = Trace(F_HZ, np.zeros(F_HZ.shape))
    all_eight = overlay_curves([(str(n), trace) for n in range(8)])
    assert len({(LIGHT.ink(c.line, c.state), c.line) for c in all_eight}) == 8
    without = overlay_curves([(str(n), None if n == 2 else trace) for n in range(8)])
    assert [c for c in all_eight if c.label != "2"] == list(without)


@pytest.mark.parametrize("name", sorted(NAMES))
def test_svg_is_sound_and_says_the_name(name: str) -> None:
    """Parsed as XML it has words, a title, no script, no style of its own, nothing from outside."""
    svg = picture_svg(shown_analysis(NAMES[name]), "insertion")
    root = ET.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {
        "svg",
        "title",
        "g",
        "path",
        "defs",
        "use",
        "text",
        "clipPath",
        "rect",
        "pattern",
    }
    assert len(root.findall(f".//{SVG}text")) > 30
    title = root.findtext(f"{SVG}title")
    assert title is not None
    assert NAMES[name][:8].split("\n")[0] in title
    assert "\u202e" not in svg
    # Marks around right-to-left letters keep the parts of a line in order.
    words = [element.text or "" for element in root.iter(f"{SVG}text")]
    hebrew = [word for word in words if "פדל" in word]
    assert len(hebrew) == (2 if name == "right to left" else 0)
    for word in hebrew:
        assert word.startswith("\u200e")
        assert re.search("[\u05d0-\u05ea]\u200e[:;]", word)
    assert not re.search(r'(href|src)="(?!#)', svg)


def test_identifiers_do_not_meet_in_one_page() -> None:
    """All pictures in both themes: no identifier twice, and every reference finds its own."""
    source = shown_analysis()
    seen: set[str] = set()
    for name in pictures_of(source):
        for svg in picture_pair(source, name, prefix=f"{name}-"):
            own = re.findall(r'\sid="([^"]+)"', svg)
            assert len(own) == len(set(own))
            assert not seen & set(own)
            seen |= set(own)
            pointed = re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', svg)
            assert pointed
            assert {a or b for a, b in pointed} <= set(own)
    assert len(pictures_of(source)) == len(PICTURES)


def test_themes_are_the_same_picture_in_other_inks() -> None:
    """A dark picture drawn dark is the light one with its inks exchanged, word for word."""
    source = shown_analysis()
    light, dark = picture_pair(source, "zoom")
    assert picture_svg(source, "zoom", theme="dark", prefix="d-") == dark
    for one, other in zip(LIGHT.all_inks, DARK.all_inks, strict=True):
        assert light.count(one) == dark.count(other)
        assert one not in dark or one in DARK.all_inks
    left = set(re.findall(r"#[0-9a-f]{6}\b", light)) - set(LIGHT.all_inks)
    assert left <= {"#000000"}


def test_auto_follows_the_page_and_prints_light() -> None:
    """All inks are variables of the element itself, with values for light, dark and print."""
    svg = picture_svg(shown_analysis(), "noise", theme="auto", prefix="n-")
    style = re.search(r"<style>(.*?)</style>", svg)
    assert style is not None
    light, dark, printed = (
        re.findall(r"#[0-9a-f]{6}\b", part) for part in style[1].split("@media")
    )
    assert tuple(light) == tuple(printed) == LIGHT.all_inks
    assert tuple(dark) == DARK.all_inks
    rules = re.findall(r"#([\w-]+)\{--", style[1])
    assert rules == ["n-auto"] * 3
    assert 'id="n-auto"' in svg
    body = svg.replace(style[0], "")
    assert not re.search(r"(fill|stroke): #(?!000000)", body)
    used = {int(n) for n in re.findall(r"var\(--c(\d+)\)", body)}
    assert used <= set(range(len(LIGHT.all_inks)))
    assert len(used) > 4


@pytest.mark.parametrize(("size", "pixels"), [("slide", (1920, 1080)), ("web", (1600, None))])
def test_sizes_in_pixels(tmp_path: Path, size: str, pixels: tuple[int, int | None]) -> None:
    """A slide is 1920 by 1080; a picture for a page 1600 wide, twice the 800 it is shown in."""
    written = write_pictures(
        shown_analysis(), tmp_path, ("player",), themes=("light", "dark"), sizes=(size,)
    )
    tail = "-slide" if size == "slide" else ""
    names = {f"player{dark}{tail}.{kind}" for dark in ("", "-dark") for kind in ("png", "svg")}
    assert {path.name for path in written} == {p.name for p in tmp_path.iterdir()} == names
    width, height = struct.unpack(">II", (tmp_path / f"player{tail}.png").read_bytes()[16:24])
    assert width == pixels[0]
    assert pixels[1] is None or height == pixels[1]
    root = ET.fromstring((tmp_path / f"player{tail}.svg").read_text(encoding="utf-8"))
    assert root.get("width") == "800"


def test_paper_of_a_dark_picture_is_dark() -> None:
    """First pixel row of the PNG: the paper of the theme, not white."""
    png = png_bytes(draw_picture(shown_analysis(), "player", Look(DARK)), 20)
    light = png_bytes(draw_picture(shown_analysis(), "player", Look(LIGHT)), 20)
    assert png != light
    svg = picture_svg(shown_analysis(), "player", theme="dark")
    first = re.search(r"fill: (#[0-9a-f]{6})", svg)
    assert first is not None
    assert first[1] == THEMES["dark"].paper


def test_words_of_slides_are_a_fortieth_of_the_height() -> None:
    """Nothing on a slide is below 7 pt of 324: readable at the back."""
    figure = draw_picture(shown_analysis(), "insertion", Look(LIGHT, "slide"))
    assert figure.get_size_inches()[1] == 4.5
    assert min(t.get_fontsize() for t in texts(figure)) >= 7.0


def test_harmonics_that_the_setup_has_too_are_not_drawn() -> None:
    """2nd, 4th and 5th exceed the reference's; the 3rd is the setup's own, and so is the start."""
    sheet = harmonics_sheet(shown_analysis())
    own = [curve for curve in sheet.curves if curve.line != "cable"]
    assert [curve.label[:3] for curve in own] == ["2nd", "4th", "5th"] * 2
    for curve in own:
        drawn = curve.f_hz[np.isfinite(curve.level_db)]
        # The first third, and the second that is 40 dB above the rest.
        assert drawn[0] == pytest.approx(curve.f_hz[2])
    assert np.nanmax(own[0].level_db) == pytest.approx(-60.0, abs=0.1)
    for curve in sheet.curves:
        if curve.line == "cable":
            assert np.nanmax(curve.level_db) < -105
    for floor in sheet.floors:
        assert floor.f_hz[0] == pytest.approx(own[0].f_hz[2])


def test_no_harmonic_above_the_cable_is_said() -> None:
    """A pedal with the reference's harmonics has none drawn, and the caption says so."""
    source = shown_analysis()
    like = source.references[0].behaviour
    assert like is not None
    assert like.distortion is not None
    quiet = analysis()
    assert harmonics_sheet(quiet).empty
    assert "none does" in harmonics_sheet(quiet).caption


def test_tones_near_each_other_have_one_name() -> None:
    """Of 1000 and 1010 Hz the louder is named, and every name has its stem."""
    sheet = noise_sheet(shown_analysis())
    figure = draw_picture(shown_analysis(), "noise")
    written = [t.get_text() for t in texts(figure)]
    assert "1.000 kHz" in written
    assert "1.010 kHz" not in written
    assert "50 Hz" in written
    assert len(sheet.marks) == 24
    places = sorted(m.f_hz for m in sheet.marks if m.text in written)
    assert all(b / a > 10**0.1 for a, b in pairwise(places))


def test_unknown_picture_is_refused() -> None:
    """The message lists what there is."""
    with pytest.raises(ArgumentError, match='no picture "spectrum"'):
        draw_picture(analysis(), "spectrum")
    assert "presses" not in pictures_of(analysis())
    assert insertion_sheet(analysis()).curves
