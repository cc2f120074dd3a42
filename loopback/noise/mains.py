"""The mains series in a density: 50 or 60 Hz, and how far it stands over the noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64

_CANDIDATES_HZ = (50.0, 60.0)
_ORDERS = 20
_REACH_POINTS = 2
_SIGNIFICANCE = 6.0


@dataclass(frozen=True, slots=True)
class MainsSeries:
    """Lines at the multiples of the mains frequency.

    Parameters
    ----------
    f_hz : float
        50 or 60.
    power : float
        Sum over the lines, noise under them taken off; full scale squared.
    lines : ndarray of bool, shape (k,)
        Points of the density that belong to a line.
    """

    f_hz: float
    power: float
    lines: NDArray[np.bool_]


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
    lines = np.zeros(len(psd), dtype=np.bool_)
    power = variance = 0.0
    for order in range(1, _ORDERS + 1):
        centre = round(order * f0_hz / step_hz)
        low, high = centre - _REACH_POINTS, centre + _REACH_POINTS + 1
        if high + 3 > len(psd):
            break
        beside = np.concatenate([psd[max(1, low - 3) : low], psd[high : high + 3]])
        floor = float(np.mean(beside))
        power += float(np.sum(psd[low:high]) - (high - low) * floor) * step_hz
        # Five points under the line and the six beside them, neighbours half correlated.
        variance += (floor * step_hz) ** 2 * (2 / dof) * 2 * ((high - low) + 25 / len(beside))
        lines[low:high] = True
    significance = power / math.sqrt(variance) if variance > 0 else 0.0
    return MainsSeries(f0_hz, max(power, 0.0), lines), significance
