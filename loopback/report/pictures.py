"""The pictures of one examination, by name."""

from __future__ import annotations

from pathlib import Path

from loopback.errors import ArgumentError
from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, noise_sheet, zoom_sheet
from loopback.report.figures.harmonics import draw_harmonics
from loopback.report.figures.insertion import draw_insertion
from loopback.report.figures.noise import draw_noise
from loopback.report.figures.writing import Figure, PictureKind, write_picture
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


def draw_picture(analysis: Analysis, name: str) -> Figure:
    """Draw one picture.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    name : str
        Of `PICTURES`.

    Returns
    -------
    matplotlib.figure.Figure
        Not written anywhere.

    Raises
    ------
    ArgumentError
        If there is no such picture.
    """
    if name not in _DRAWN:
        raise ArgumentError(
            f'There is no picture "{name}".', "", f"There are: {', '.join(PICTURES)}."
        )
    sheet_of, draw = _DRAWN[name]
    return draw(sheet_of(analysis))


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
        figure = draw_picture(analysis, name)
        for kind in kinds:
            write_picture(figure, folder / f"{name}.{kind}", kind)
    return picture_paths(folder, names, kinds)
