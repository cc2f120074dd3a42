"""Pictures on disk: the same bytes every time, in both formats."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import matplotlib as mpl
import pytest

from loopback.report.curve_source import insertion_sheet
from loopback.report.figures.levels import draw_insertion
from loopback.report.figures.writing import png_bytes, svg_bytes
from loopback.report.pictures import picture_paths, pictures_of, write_pictures
from tests.reference.invented_analysis import analysis


def test_svg_is_the_same_every_time() -> None:
    """Drawn twice, the bytes are equal, and no date is in them."""
    one, other = (svg_bytes(draw_insertion(insertion_sheet(analysis())), "X") for _ in range(2))
    assert one == other
    assert one.startswith(b"<svg ")
    for word in (b"metadata", b"dc:date", b"<!--", b"atplotlib"):
        assert word not in one
    assert not re.search(rb"20\d\d-\d\d-\d\dT", one)


def test_png_is_the_same_every_time_and_1600_wide() -> None:
    """The header says 1600 pixels, twice what a page shows, and the bytes repeat."""
    one, other = (png_bytes(draw_insertion(insertion_sheet(analysis()))) for _ in range(2))
    assert one == other
    assert one[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">I", one[16:20])[0] == 1600


def test_every_picture_is_written_in_both_formats(tmp_path: Path) -> None:
    """Names as announced, nothing else, none empty."""
    shown = pictures_of(analysis())
    written = write_pictures(analysis(), tmp_path / "plots")
    assert written == picture_paths(tmp_path / "plots", shown)
    assert {path.name for path in written} == {
        f"{name}.{kind}" for name in shown for kind in ("png", "svg")
    }
    assert all(path.stat().st_size > 10_000 for path in written)
    assert len(list((tmp_path / "plots").iterdir())) == len(written)


@pytest.mark.parametrize("setting", ["svg.hashsalt", "font.size", "text.parse_math"])
def test_drawing_leaves_no_settings_behind(setting: str) -> None:
    """Whoever uses the same drawing library in the same process finds it as it was."""
    before = mpl.rcParams[setting]
    draw_insertion(insertion_sheet(analysis()))
    assert mpl.rcParams[setting] == before
