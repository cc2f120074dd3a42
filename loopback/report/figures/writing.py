"""Pictures on disk: PNG for pages and messages, SVG for print; the same bytes every time."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Literal

from matplotlib.figure import Figure as Figure

from loopback.report.figures.frame import drawing_style

PictureKind = Literal["png", "svg"]
PNG_DPI = 200


def png_bytes(figure: Figure, dpi: int = PNG_DPI) -> bytes:
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
    with drawing_style():
        figure.savefig(out, format="png", dpi=dpi, metadata={"Software": None})
    return out.getvalue()


def svg_bytes(figure: Figure) -> bytes:
    """Render the picture as SVG without a date and with fixed identifiers.

    Parameters
    ----------
    figure : Figure
        What was drawn.

    Returns
    -------
    bytes
        A whole file; the same curves always give the same bytes.
    """
    out = io.BytesIO()
    with drawing_style():
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()


def write_picture(figure: Figure, path: Path, kind: PictureKind) -> None:
    """Write one picture.

    Parameters
    ----------
    figure : Figure
        What was drawn.
    path : Path
        File; replaced where it exists.
    kind : {"png", "svg"}
        Its format.
    """
    path.write_bytes(png_bytes(figure) if kind == "png" else svg_bytes(figure))
