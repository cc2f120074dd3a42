"""Pictures on disk: PNG for pages and messages, SVG for print; the same bytes every time."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Literal

from matplotlib.figure import Figure as Figure

from loopback.report.figures.frame import SizeName, drawing_style
from loopback.report.figures.svg import svg_text

PictureKind = Literal["png", "svg"]
PNG_DPI: dict[SizeName, int] = {"web": 200, "slide": 240}
"""1600 pixels wide, twice what a page shows; a slide is 1920 by 1080."""


def png_bytes(figure: Figure, dpi: int = PNG_DPI["web"]) -> bytes:
    """Render the picture as PNG.

    Parameters
    ----------
    figure : Figure
        What was drawn.
    dpi : int
        Pixels per inch; the paper is 8 inches wide.

    Returns
    -------
    bytes
        A whole file.
    """
    out = io.BytesIO()
    with drawing_style(), warnings.catch_warnings():
        # A sign of the script stands for letters that our font lacks.
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        figure.savefig(
            out,
            format="png",
            dpi=dpi,
            facecolor=figure.get_facecolor(),
            metadata={"Software": None},
        )
    return out.getvalue()


def svg_bytes(figure: Figure, title: str = "") -> bytes:
    """Render the picture as an SVG file.

    Parameters
    ----------
    figure : Figure
        What was drawn.
    title : str
        Name for those who hear the picture.

    Returns
    -------
    bytes
        A whole file; the same curves always give the same bytes.
    """
    return svg_text(figure, title).encode()


def write_picture(
    figure: Figure, title: str, path: Path, kind: PictureKind, size: SizeName = "web"
) -> None:
    """Write one picture.

    Parameters
    ----------
    figure : Figure
        What was drawn.
    title : str
        Name for those who hear the picture.
    path : Path
        File; replaced where it exists.
    kind : {"png", "svg"}
        Its format.
    size : {"web", "slide"}
        What it was drawn for.
    """
    path.write_bytes(
        png_bytes(figure, PNG_DPI[size]) if kind == "png" else svg_bytes(figure, title)
    )
