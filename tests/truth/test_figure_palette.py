"""The inks can be told apart by everybody, and never carry anything alone."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from loopback.report.figures.palette import LINES, MARKERS, THEMES, Theme, marker

# Machado, Oliveira and Fernandes 2009, table of severity 1.0: linear RGB as seen.
SEEN = {
    "everybody": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# IEC 61966-2-1: linear sRGB to CIE XYZ, and its white point D65.
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = XYZ.sum(axis=1)


def linear(colour: str) -> np.ndarray:
    c = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* (CIE 15)."""
    x = XYZ @ np.clip(rgb, 0, 1) / WHITE
    f = np.where(x > (6 / 29) ** 3, np.cbrt(x), x / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(colour: str, paper: str) -> float:
    """Contrast of two colours, Web Content Accessibility Guidelines 2.1."""
    light, dark = sorted((float(XYZ[1] @ linear(c)) for c in (colour, paper)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


ALL = pytest.mark.parametrize("theme", list(THEMES.values()), ids=lambda theme: theme.name)


@ALL
@pytest.mark.parametrize("eyes", sorted(SEEN))
def test_inks_differ_for_all_eyes(theme: Theme, eyes: str) -> None:
    """Any two inks are at least 25 apart in CIELAB, ten times what one just notices."""
    seen = [lab(SEEN[eyes] @ linear(colour)) for colour in theme.inks]
    assert min(np.linalg.norm(a - b) for a, b in combinations(seen, 2)) > 25


@ALL
def test_inks_stand_out_from_paper(theme: Theme) -> None:
    """Lines have a contrast of 3:1 with their paper, words 7:1 (WCAG 2.1, 1.4.11, 1.4.6)."""
    assert min(contrast(colour, theme.paper) for colour in (*theme.inks, theme.cable)) >= 3.0
    assert contrast(theme.text, theme.paper) >= 7.0


def test_inks_can_be_exchanged() -> None:
    """No colour stands for two things in a theme, and all themes have as many."""
    for theme in THEMES.values():
        assert len(set(theme.all_inks)) == len(theme.all_inks) == 12


@ALL
def test_colour_never_stands_alone(theme: Theme) -> None:
    """Every ink has a marker of its own, every feed a line style of its own."""
    assert len(set(theme.inks)) == 6
    assert len(set(MARKERS)) == len(MARKERS) >= 8
    assert len({dashes for _, dashes, _ in LINES.values()}) == len(LINES)
    for state in range(6):
        assert (theme.ink("plain", state), marker("plain", state)) == (
            theme.inks[state],
            MARKERS[state],
        )
        assert theme.ink("cable", state) == theme.cable
