"""A picture as SVG text: for a file of its own, or to stand in a page among others.

Words stay words, so that they can be searched, read aloud and set in the reader's own font where
ours is missing. Nothing in it depends on the day or on the machine.
"""

from __future__ import annotations

import io
import re
import warnings
from html import escape
from typing import Literal

from matplotlib.figure import Figure

from loopback.report.figures.frame import drawing_style
from loopback.report.figures.palette import DARK, LIGHT, THEMES, ThemeName
from loopback.texts import one_line

PageTheme = Literal["light", "dark", "auto"]
"""auto: follows the page between light and dark, and is light in print."""

_PX_PER_IN = 100
_CSS = "--c"
_FONTS = "font-family: 'DejaVu Sans', Verdana, sans-serif"
"""The second has the same widths, others are narrower."""
_POINTER = re.compile(r'(\sid="|href="#|url\(#)')
_DECIMALS = re.compile(r"(\.\d\d)\d+")


def svg_text(figure: Figure, title: str = "", *, prefix: str = "") -> str:
    """Render a picture as SVG.

    Parameters
    ----------
    figure : Figure
        What was drawn.
    title : str
        Name for those who hear the picture.
    prefix : str
        Put before every identifier, so that several can stand in one page; letters, digits, ``-``.

    Returns
    -------
    str
        One ``svg`` element without prologue and without metadata; the same curves always give the
        same text.
    """
    out = io.StringIO()
    with drawing_style(), warnings.catch_warnings():
        # Letters that our font lacks are measured generously and set in the reader's font.
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        figure.savefig(out, format="svg", facecolor=figure.get_facecolor(), metadata={"Date": None})
    text = out.getvalue()
    text = text[text.index("<svg") :].strip()
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    text = text.replace('id="matplotlib.axis_', 'id="axis_')
    # A style sheet inside would hold for the whole page.
    text = re.sub(r"<style[^>]*>.*?</style>\s*", "", text, flags=re.DOTALL)
    text = text.replace("font-family: 'DejaVu Sans', sans-serif", _FONTS)
    width_in, height_in = (float(x) for x in figure.get_size_inches())
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'role="img" style="stroke-linejoin: round; stroke-linecap: butt" '
        f'width="{_PX_PER_IN * width_in:.0f}" height="{_PX_PER_IN * height_in:.0f}" '
        f'viewBox="0 0 {72 * width_in:g} {72 * height_in:.6g}">\n'
        f"<title>{escape(one_line(title))}</title>"
    )
    text = head + re.sub(
        r"<[^<>]+>", lambda tag: _shorter(tag[0], prefix), text[text.index(">") + 1 :]
    )
    return text + "\n"


def in_theme(svg: str, theme: PageTheme, *, prefix: str = "") -> str:
    """Give a light picture the colours of another theme.

    Parameters
    ----------
    svg : str
        From `svg_text`, of a figure drawn in the light theme.
    theme : {"light", "dark", "auto"}
        What is wanted.
    prefix : str
        The one that its identifiers have.

    Returns
    -------
    str
        With ``auto`` the colours are variables of the element, with rules for dark and for print;
        only browsers know these.
    """
    if theme == "light":
        return svg
    light = LIGHT.all_inks
    if theme == "auto":
        into = {ink: f"var({_CSS}{n})" for n, ink in enumerate(light)}
    else:
        into = dict(zip(light, THEMES[theme].all_inks, strict=True))
    inks = re.compile("|".join(light))
    # In tags only: a pedal may be called like a colour.
    out = re.sub(r"<[^<>]+>", lambda tag: inks.sub(lambda ink: into[ink[0]], tag[0]), svg)
    if theme == "dark":
        return out
    name = f"{prefix}auto"
    style = (
        f"<style>#{name}{{{_variables('light')}}}"
        f"@media (prefers-color-scheme: dark){{#{name}{{{_variables('dark')}}}}}"
        f"@media print{{#{name}{{{_variables('light')}}}}}</style>"
    )
    return out.replace("<svg ", f'<svg id="{name}" ', 1).replace("</title>", f"</title>{style}", 1)


def _variables(theme: ThemeName) -> str:
    inks = (DARK if theme == "dark" else LIGHT).all_inks
    return "".join(f"{_CSS}{n}:{ink};" for n, ink in enumerate(inks))


def _shorter(tag: str, prefix: str) -> str:
    """Give numbers of a tag two decimals, and identifiers and what points to them the prefix."""
    return _POINTER.sub(rf"\g<1>{prefix}", _DECIMALS.sub(r"\1", tag))
