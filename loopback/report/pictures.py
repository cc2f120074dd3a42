"""The pictures of one examination, by name."""

from __future__ import annotations

from pathlib import Path

from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, noise_sheet, zoom_sheet
from loopback.report.figures.harmonics import draw_harmonics
from loopback.report.figures.insertion import draw_insertion
from loopback.report.figures.noise import draw_noise
from loopback.report.figures.writing import PictureKind, write_picture
from loopback.report.figures.zoom import draw_zoom
from loopback.report.harmonics_source import harmonics_sheet

_DRAWN = {
    "insertion": (insertion_sheet, draw_insertion),
    "zoom": (zoom_sheet, draw_zoom),
    "noise": (noise_sheet, draw_noise),
    "harmonics": (harmonics_sheet, draw_harmonics),
}
PICTURES = tuple(_DRAWN)
"""Names, in the order in which one looks at them."""
KINDS: tuple[PictureKind, ...] = ("png", "svg")


def picture_paths(
    folder: Path, names: tuple[str, ...] = PICTURES, kinds: tuple[PictureKind, ...] = KINDS
) -> tuple[Path, ...]:
    """Name the files that `write_pictures` makes.

    Parameters
    ----------
    folder : Path
        Where they go.
    names : tuple of str
        Of `PICTURES`.
    kinds : tuple of {"png", "svg"}
        File formats.

    Returns
    -------
    tuple of Path
        Picture by picture.
    """
    return tuple(folder / f"{name}.{kind}" for name in names for kind in kinds)


def write_pictures(
    analysis: Analysis,
    folder: Path,
    names: tuple[str, ...] = PICTURES,
    kinds: tuple[PictureKind, ...] = KINDS,
) -> tuple[Path, ...]:
    """Draw and write pictures; files of the same names are replaced, so whoever calls asks first.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    folder : Path
        Made where it does not exist.
    names : tuple of str
        Of `PICTURES`.
    kinds : tuple of {"png", "svg"}
        File formats.

    Returns
    -------
    tuple of Path
        What was written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name in names:
        sheet_of, draw = _DRAWN[name]
        figure = draw(sheet_of(analysis))
        for kind in kinds:
            write_picture(figure, folder / f"{name}.{kind}", kind)
    return picture_paths(folder, names, kinds)
