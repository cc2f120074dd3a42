"""The pictures of an examination as they stand inside a page, following its light and dark."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.report.circuit_parts import Circuit
from loopback.report.circuit_svg import circuit_svg
from loopback.report.page_records import Picture
from loopback.report.pictures import picture_svg, pictures_of
from loopback.verdict.sentences import short_form


def page_pictures(analysis: Analysis) -> dict[str, Picture]:
    """Draw every picture that has something to show.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    dict of str to Picture
        By name, in the order in which one looks at them.
    """
    return {
        name: Picture(
            f"picture-{name}", picture_svg(analysis, name, theme="auto", prefix=f"{name}-")
        )
        for name in pictures_of(analysis)
    }


def circuit_picture(analysis: Analysis, circuit: Circuit) -> Picture:
    """Draw the equivalent circuit.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    circuit : Circuit
        From `loopback.report.page_circuit.circuit_of`.

    Returns
    -------
    Picture
        In the colour of the text around it.
    """
    about = f"Circuit drawing. {short_form(analysis.result, 'In bypass')}"
    return Picture("drawing", circuit_svg(circuit, about))
