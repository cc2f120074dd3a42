"""A circuit drawn as SVG: symbols of IEC 60617 in the colour of the text around them.

No library draws it: a few symbols are all there is, and they follow the page into the dark. Only
strings of our own are written into it, and those are escaped.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from loopback.report.circuit_parts import Across, AcrossKind, Circuit, InLine, LineKind

_EM = 13.0
_LETTER = 0.6 * _EM
"""Room for one letter: no common typeface needs more on the average (measured on six)."""
_TOP, _DROP, _PART = 46.0, 16.0, 58.0
_EDGE = 44.0
_LEAST = 92.0
_GAP = 22.0
_LEAST_WIDTH = 300.0
_LEAST_SCALE = 0.75
"""On a narrow screen it shrinks to this, and is scrolled from there on."""


def circuit_svg(circuit: Circuit, about: str) -> str:
    """Draw a circuit.

    Parameters
    ----------
    circuit : Circuit
        Any number of items.
    about : str
        What is read to whoever does not see it.

    Returns
    -------
    str
        One ``svg`` element without identifiers, to stand inside a page.
    """
    x, shapes = _EDGE, []
    depth = max((len(i.parts) for i in circuit.items if isinstance(i, Across)), default=0)
    for item in circuit.items:
        width = _width(item)
        if isinstance(item, InLine):
            shapes.append(_in_line(item, x, x + width))
        else:
            shapes.append(_across(item, x, x + width, depth))
        x += width
    shapes.append(f'<path d="M{x:.0f} {_TOP:.0f}h{_GAP:.0f}"/>')
    x += _GAP
    shapes += [_terminal(_EDGE), _terminal(x)]
    shapes.append(_words("in", _EDGE - 10, _TOP + 4, "end"))
    shapes.append(_words("out", x + 10, _TOP + 4, "start"))
    width = max(x + _EDGE, _LEAST_WIDTH)
    height = _TOP + (_DROP + depth * _PART + 26 if depth else 44)
    return (
        f'<svg class="circuit" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'aria-label={quoteattr(about)} viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" style="min-width:{_LEAST_SCALE * width:.0f}px" '
        f'fill="none" stroke="currentColor" '
        'stroke-width="1.5" stroke-linejoin="round" stroke-linecap="round" '
        f'font-size="{_EM:.0f}" font-family="system-ui, &quot;DejaVu Sans&quot;, sans-serif">'
        + "".join(shapes)
        + "</svg>"
    )


def _width(item: InLine | Across) -> float:
    if isinstance(item, Across):
        longest = max((len(text) for _, text in item.parts), default=0)
        return _GAP + max(30.0, 20.0 + longest * _LETTER)
    longest = max(len(item.text), len(item.below))
    return max(_LEAST, longest * _LETTER + _GAP)


def _terminal(x: float) -> str:
    return f'<circle cx="{x:.0f}" cy="{_TOP:.0f}" r="3.5" style="fill:var(--paper, none)"/>'


def _words(text: str, x: float, y: float, anchor: str = "middle") -> str:
    if not text:
        return ""
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}" fill="currentColor" '
        f'stroke="none">{escape(text)}</text>'
    )


_LINE_SYMBOLS: dict[LineKind, tuple[float, str]] = {
    "wire": (0.0, ""),
    "resistor": (34.0, "M0 -7h34v14h-34z"),
    "capacitor": (7.0, "M0 -11v22M7 -11v22"),
    "winding": (
        44.0,
        "M0 0v-4a5.5 5.5 0 0 1 11 0a5.5 5.5 0 0 1 11 0a5.5 5.5 0 0 1 11 0a5.5 5.5 0 0 1 11 0v4"
        "M4 -15h36M4 -18h36",
    ),
    "joint": (26.0, "M0 0l5 0l3 -7l4 13l4 -13l3 13l3 -6h4"),
    "open": (30.0, "M3 0a3 3 0 1 0 -.01 0M27 0a3 3 0 1 0 .01 0M4 -3l18 -13"),
    "stage": (38.0, "M0 -19v38l38 -19z"),
    "converter": (78.0, "M0 -15h78v30h-78zM39 -15v30"),
}
"""Width along the line, and the path from its left end; y grows downwards."""
_ACROSS_SYMBOLS: dict[AcrossKind, tuple[float, str]] = {
    "resistor": (34.0, "M-7 0h14v34h-14z"),
    "capacitor": (7.0, "M-11 0h22M-11 7h22"),
    "wire": (0.0, ""),
}


def _in_line(item: InLine, left: float, right: float) -> str:
    size, path = _LINE_SYMBOLS[item.kind]
    middle = (left + right) / 2
    start = middle - size / 2
    lines = f"M{left:.1f} {_TOP}H{start:.1f}M{start + size:.1f} {_TOP}H{right:.1f}"
    parts = [f'<path d="{lines}"/>']
    if path:
        parts.append(f'<path transform="translate({start:.1f} {_TOP})" d="{path}"/>')
    if item.kind == "converter":
        parts.append(_words("A/D", middle - 19.5, _TOP + 4.5))
        parts.append(_words("D/A", middle + 19.5, _TOP + 4.5))
    parts.append(_words(item.text, middle, _TOP - 25))
    parts.append(_words(item.below, middle, _TOP + 36))
    return "".join(parts)


def _across(item: Across, left: float, right: float, depth: int) -> str:
    x, bottom = left + _GAP, _TOP + _DROP + depth * _PART
    shapes = [
        f'<path d="M{left:.1f} {_TOP}H{right:.1f}"/>',
        f'<circle cx="{x:.1f}" cy="{_TOP}" r="3" fill="currentColor" stroke="none"/>',
    ]
    y = _TOP
    for order, (kind, text) in enumerate(item.parts):
        size, path = _ACROSS_SYMBOLS[kind]
        middle = _TOP + _DROP + (order + 0.5) * _PART
        start = middle - size / 2
        shapes.append(f'<path d="M{x:.1f} {y:.1f}V{start:.1f}"/>')
        if path:
            shapes.append(f'<path transform="translate({x:.1f} {start:.1f})" d="{path}"/>')
        shapes.append(_words(text, x + 17, middle + 4.5, "start"))
        y = start + size
    ground = f"M{x:.1f} {y:.1f}V{bottom:.1f}M{x - 11:.1f} {bottom:.1f}h22"
    ground += f"M{x - 7:.1f} {bottom + 5:.1f}h14M{x - 3:.1f} {bottom + 10:.1f}h6"
    shapes.append(f'<path d="{ground}"/>')
    return "".join(shapes)
