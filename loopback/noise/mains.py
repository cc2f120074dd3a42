"""The mains series in a density: 50 or 60 Hz, and how far it stands over the noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64

_CANDIDATES_HZ = (50.0, 60.0)
_ORDERS = 20
_LINE_POINTS, _LEAK_POINTS = 2, 3.5
"""Points from the line's frequency: the main lobe of a Hann window, and where its first side lobes
end; beyond, a line has fallen by 44 dB."""
_SIGNIFICANCE = 6.0


@dataclass(frozen=True, slots=True)
class MainsSeries:
    """Lines at the multiples of the mains frequency.

    Parameters
    ----------
    f_hz : float
        50 or 60.
    power : float
        Of all lines with what they leak into the points between, noise taken off; full scale
        squared.
    u_line : float
        Standard uncertainty from noise that adds to the lines' own waves: it moves the power of the
        lines, and leaves that of the noise between them alone.
    u_noise : float
        Standard uncertainty from the scatter of the noise in and beside the lines: what of it is
        counted as line is missing in the noise.
    """

    f_hz: float
    power: float
    u_line: float
    u_noise: float


def find_mains(f_hz: F64, psd: F64, dof: float) -> MainsSeries | None:
    """Find the mains series that explains most of a density.

    Parameters
    ----------
    f_hz, psd : ndarray of float64, shape (k,)
        One-sided density on equally spaced points.
    dof : float
        Degrees of freedom of one point, for telling a line from scatter.

    Returns
    -------
    MainsSeries or None
        None when no series stands out, or the points lie too far apart (over 10 Hz) to tell.
    """
    step = float(f_hz[1] - f_hz[0])
    if step > 10.0 or not np.any(psd > 0):
        return None
    found = [_series(f0, step, psd, dof) for f0 in _CANDIDATES_HZ]
    best = max(found, key=lambda item: item[1])
    return best[0] if best[1] > _SIGNIFICANCE else None


def _series(f0_hz: float, step_hz: float, psd: F64, dof: float) -> tuple[MainsSeries, float]:
    half = f0_hz / step_hz / 2
    power = significant = variance = line_variance = noise_variance = 0.0
    for order in range(1, _ORDERS + 1):
        exact = order * f0_hz / step_hz
        first, last = math.ceil(exact - half), math.ceil(exact + half)
        if last > len(psd):
            break
        points = np.arange(max(1, first), last)
        around = psd[points]
        line = np.abs(points - exact) <= _LINE_POINTS
        # Between two lines, where a strong one leaks least, lies the noise.
        floor = float(np.mean(around[np.abs(points - exact) > _LEAK_POINTS]))
        power += float(np.sum(around - floor)) * step_hz
        significant += float(np.sum(around[line] - floor)) * step_hz
        # Neighbouring points of half-overlapping Hann segments are half correlated.
        count, beside = int(np.sum(line)), len(points) - 2 * _LEAK_POINTS
        variance += (floor * step_hz) ** 2 * (4 / dof) * (count + count**2 / beside)
        every, strength = len(points), max(float(np.sum(around - floor)) * step_hz, 0.0)
        noise_variance += (floor * step_hz) ** 2 * (4 / dof) * (every + every**2 / beside)
        # A sine of power P in noise of density S over T: 2 P S / T, and T is dof / 4 segments.
        line_variance += 8 * strength * floor * step_hz / dof
    significance = significant / math.sqrt(variance) if variance > 0 else 0.0
    u_line, u_noise = math.sqrt(line_variance), math.sqrt(noise_variance)
    return MainsSeries(f0_hz, max(power, 0.0), u_line, u_noise), significance
