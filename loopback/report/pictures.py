"""The pictures of one examination, by name: drawn, as SVG text for a page, and as files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from loopback.errors import ArgumentError
from loopback.facts import Analysis
from loopback.report.curve_source import insertion_sheet, zoom_sheet
from loopback.report.figures.curves import PressSheet, Sheet
from loopback.report.figures.frame import USUAL, Look, SizeName
from loopback.report.figures.levels import draw_harmonics, draw_insertion, draw_zoom
from loopback.report.figures.noise import draw_noise
from loopback.report.figures.palette import THEMES as THEMES
from loopback.report.figures.palette import ThemeName
from loopback.report.figures.player import draw_player
from loopback.report.figures.presses import draw_presses
from loopback.report.figures.svg import PageTheme, in_theme, svg_text
from loopback.report.figures.writing import Figure, PictureKind, write_picture
from loopback.report.harmonics_source import harmonics_sheet
from loopback.report.noise_source import noise_sheet
from loopback.report.player_source import player_sheet
from loopback.report.press_source import press_sheet

S = TypeVar("S", Sheet, PressSheet)


@dataclass(frozen=True, slots=True)
class _Picture(Generic[S]):
    sheet_of: Callable[[Analysis], S]
    draw: Callable[[S, Look], Figure]

    def shows(self, analysis: Analysis) -> bool:
        return not self.sheet_of(analysis).empty

    def drawn(self, analysis: Analysis, look: Look) -> tuple[str, Figure]:
        sheet = self.sheet_of(analysis)
        return sheet.title, self.draw(sheet, look)


_ALL: dict[str, _Picture[Sheet] | _Picture[PressSheet]] = {
    "insertion": _Picture(insertion_sheet, draw_insertion),
    "zoom": _Picture(zoom_sheet, draw_zoom),
    "noise": _Picture(noise_sheet, draw_noise),
    "harmonics": _Picture(harmonics_sheet, draw_harmonics),
    "presses": _Picture(press_sheet, draw_presses),
    "player": _Picture(player_sheet, draw_player),
}
PICTURES = tuple(_ALL)
"""Names, in the order in which one looks at them."""
KINDS: tuple[PictureKind, ...] = ("png", "svg")
SIZES: tuple[SizeName, ...] = ("web", "slide")


def pictures_of(analysis: Analysis) -> tuple[str, ...]:
    """Name the pictures for which an examination has something to show.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of str
        Of `PICTURES`, in their order.
    """
    return tuple(name for name, picture in _ALL.items() if picture.shows(analysis))


def draw_picture(analysis: Analysis, name: str, look: Look = USUAL) -> Figure:
    """Draw one picture.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    name : str
        Of `PICTURES`; one that `pictures_of` leaves out has empty axes.
    look : Look
        Theme and size.

    Returns
    -------
    matplotlib.figure.Figure
        Not written anywhere.

    Raises
    ------
    ArgumentError
        If there is no such picture.
    """
    return _drawn(analysis, name, look)[1]


def picture_svg(
    analysis: Analysis,
    name: str,
    *,
    theme: PageTheme = "light",
    prefix: str = "",
    size: SizeName = "web",
) -> str:
    """Draw one picture as SVG text that can stand in a page.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    name : str
        Of `PICTURES`.
    theme : {"light", "dark", "auto"}
        auto: follows the page between light and dark, and is light in print.
    prefix : str
        Put before every identifier, so that several can stand in one page.
    size : {"web", "slide"}
        800 pixels wide and as high as it needs, or 16:9.

    Returns
    -------
    str
        One ``svg`` element; the same analysis always gives the same text.

    Raises
    ------
    ArgumentError
        If there is no such picture.
    """
    title, figure = _drawn(analysis, name, Look(size=size))
    return in_theme(svg_text(figure, title, prefix=prefix), theme, prefix=prefix)


def picture_pair(
    analysis: Analysis, name: str, *, prefix: str = "", size: SizeName = "web"
) -> tuple[str, str]:
    """Draw one picture once, and give it in both themes.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    name : str
        Of `PICTURES`.
    prefix : str
        Put before every identifier, with ``l-`` or ``d-`` after it.
    size : {"web", "slide"}
        See `picture_svg`.

    Returns
    -------
    tuple of (str, str)
        Light and dark.

    Raises
    ------
    ArgumentError
        If there is no such picture.
    """
    title, figure = _drawn(analysis, name, Look(size=size))
    light, dark = (svg_text(figure, title, prefix=f"{prefix}{side}-") for side in "ld")
    return light, in_theme(dark, "dark")


def picture_paths(
    folder: Path,
    names: tuple[str, ...] = PICTURES,
    kinds: tuple[PictureKind, ...] = KINDS,
    themes: tuple[ThemeName, ...] = ("light",),
    sizes: tuple[SizeName, ...] = ("web",),
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
    themes : tuple of {"light", "dark"}
        Dark ones have ``-dark`` in their names.
    sizes : tuple of {"web", "slide"}
        Slides have ``-slide`` in their names.

    Returns
    -------
    tuple of Path
        Picture by picture.
    """
    return tuple(
        folder / _file_name(name, kind, theme, size)
        for name in names
        for theme in themes
        for size in sizes
        for kind in kinds
    )


def write_pictures(
    analysis: Analysis,
    folder: Path,
    names: tuple[str, ...] | None = None,
    kinds: tuple[PictureKind, ...] = KINDS,
    themes: tuple[ThemeName, ...] = ("light",),
    sizes: tuple[SizeName, ...] = ("web",),
) -> tuple[Path, ...]:
    """Draw and write pictures; files of the same names are replaced, so whoever calls asks first.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    folder : Path
        Made where it does not exist.
    names : tuple of str or None
        Of `PICTURES`; None: those that show something.
    kinds : tuple of {"png", "svg"}
        File formats.
    themes : tuple of {"light", "dark"}
        See `picture_paths`.
    sizes : tuple of {"web", "slide"}
        See `picture_paths`.

    Returns
    -------
    tuple of Path
        What was written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    chosen = pictures_of(analysis) if names is None else names
    for name in chosen:
        for theme in themes:
            for size in sizes:
                title, figure = _drawn(analysis, name, Look(THEMES[theme], size))
                for kind in kinds:
                    path = folder / _file_name(name, kind, theme, size)
                    write_picture(figure, title, path, kind, size)
    return picture_paths(folder, chosen, kinds, themes, sizes)


def _drawn(analysis: Analysis, name: str, look: Look) -> tuple[str, Figure]:
    """Draw a picture; the first value is its title."""
    if name not in _ALL:
        raise ArgumentError(
            f'There is no picture "{name}".', "", f"There are: {', '.join(PICTURES)}."
        )
    return _ALL[name].drawn(analysis, look)


def _file_name(name: str, kind: PictureKind, theme: ThemeName, size: SizeName) -> str:
    dark = "-dark" if theme == "dark" else ""
    slide = "-slide" if size == "slide" else ""
    return f"{name}{dark}{slide}.{kind}"
