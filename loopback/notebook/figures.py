"""The pictures of an analysis as figures of the drawing library."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from loopback.errors import ArgumentError
from loopback.facts import Analysis

if TYPE_CHECKING:
    from loopback.report.figures.frame import SizeName
    from loopback.report.figures.palette import ThemeName
    from loopback.report.figures.writing import Figure

PictureName = Literal["insertion", "zoom", "noise", "harmonics"]


def figure(
    analysis: Analysis,
    picture: PictureName = "insertion",
    *,
    theme: ThemeName = "light",
    size: SizeName = "web",
) -> Figure:
    """Draw a picture of an analysis.

    Parameters
    ----------
    analysis : Analysis
        From `loopback.analyse`.
    picture : {"insertion", "zoom", "noise", "harmonics"}
        insertion: every run against the cable. zoom: the same within 1 dB. noise: spectra of the
        silences. harmonics: what the path adds to a tone.
    theme : {"light", "dark"}
        Paper and inks.
    size : {"web", "slide"}
        8 inches wide and as high as it needs, or 16:9.

    Returns
    -------
    matplotlib.figure.Figure
        To be shown, changed, or saved with its `savefig`. In a notebook, ``%matplotlib inline``
        once shows every figure in which a cell ends.

    Raises
    ------
    ArgumentError
        If there is no such picture, theme or size.

    Examples
    --------
    >>> import tempfile
    >>> from loopback import analyse, simulate_examination
    >>> with tempfile.TemporaryDirectory() as place:
    ...     made = simulate_examination(place + "/lamp", "quarry-lamp", plan="quick", sweep_s=1.0)
    ...     analysis = analyse(made)
    ...     figure(analysis, "zoom").savefig(place + "/zoom.png", dpi=100)
    """
    # Only whoever draws loads the drawing library.
    from loopback.report.figures.frame import Look
    from loopback.report.figures.palette import THEMES
    from loopback.report.pictures import draw_picture

    if theme not in THEMES or size not in ("web", "slide"):
        raise ArgumentError(
            f'Theme "{theme}" and size "{size}" were given.',
            "Themes are light and dark, sizes web and slide.",
        )
    return draw_picture(analysis, picture, Look(THEMES[theme], size))
