"""The mains series line by line: its real frequency, each line's level, and their sum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.noise.spectrum import Spectrum
from loopback.noise.tones import Tone, level_of, limit_dbfs, line_u
from loopback.quantity import Estimate

ORDERS = 40
_NOMINAL_HZ = (50.0, 60.0)
_OFF = 0.005
"""Networks keep within half a per cent but in an emergency (EN 50160)."""
_LEAST_LINES = 2
_WORST_Z = 4.0
_DB = 10 / math.log(10)


@dataclass(frozen=True, slots=True)
class MainsLine:
    """One line.

    Parameters
    ----------
    order : int
        Multiple of the mains frequency, from 1.
    level_dbfs : Estimate or None
        None: it does not stand out.
    below_dbfs : float
        What it lies below where it does not.
    """

    order: int
    level_dbfs: Estimate | None
    below_dbfs: float


@dataclass(frozen=True, slots=True)
class MainsLines:
    """The whole series.

    Parameters
    ----------
    nominal_hz : float
        50 or 60.
    f_hz : Estimate
        Frequency of the mains during the silence, hertz; as far as the lines agree on it.
    lines : tuple of MainsLine
        Orders 1 to 40, as far as they were recorded.
    sum_dbfs : Estimate
        All of them by power, noise taken off.
    """

    nominal_hz: float
    f_hz: Estimate
    lines: tuple[MainsLine, ...]
    sum_dbfs: Estimate


def mains_lines(spectrum: Spectrum, tones: Sequence[Tone]) -> MainsLines | None:
    """Find the mains series among the tones of a silence and measure every line of it.

    Parameters
    ----------
    spectrum : Spectrum
        Of the silence.
    tones : sequence of Tone
        Of `find_tones`.

    Returns
    -------
    MainsLines or None
        None where fewer than two tones agree on one mains frequency.
    """
    found = [_agreed(nominal, tones) for nominal in _NOMINAL_HZ]
    best = max(found, key=lambda item: item[1])
    if best[0] is None:
        return None
    nominal, f_hz = best[2], best[0]
    lines: list[MainsLine] = []
    power = variance = 0.0
    for order in range(1, ORDERS + 1):
        at_hz = order * f_hz.value
        if at_hz >= (len(spectrum.bins) - 20) * spectrum.step_hz:
            break
        u = line_u(spectrum, at_hz)
        centre, course = spectrum.around(at_hz)
        offset = np.array([at_hz / spectrum.step_hz - centre])
        own = float(np.abs(spectrum.at(course, offset))[0]) ** 2 - 2 * u**2
        power += own
        variance += 4 * max(own, 0.0) * u**2 + 4 * u**4
        limit = float(limit_dbfs(spectrum, np.array([at_hz]))[0])
        level = level_of(math.sqrt(max(own + u**2, 0.0)), u)
        lines.append(MainsLine(order, level if level.value > limit else None, limit))
    total = Estimate(
        _DB * math.log(power) if power > 0 else -math.inf,
        _DB * math.sqrt(variance) / power if power > 0 else math.inf,
        "dB",
    )
    return MainsLines(nominal, f_hz, tuple(lines), total)


def order_of(f_hz: float, mains: MainsLines | None) -> int | None:
    """Tell which line of the mains series a frequency is.

    Parameters
    ----------
    f_hz : float
        Frequency.
    mains : MainsLines or None
        The series.

    Returns
    -------
    int or None
        None: it is none of them.
    """
    if mains is None:
        return None
    order = round(f_hz / mains.f_hz.value)
    off = abs(f_hz - order * mains.f_hz.value)
    return order if order >= 1 and off <= max(0.3, 4 * order * mains.f_hz.u) else None


def _agreed(nominal_hz: float, tones: Sequence[Tone]) -> tuple[Estimate | None, float, float]:
    """Weighted mean of frequency over order of all tones near a multiple, and their power.

    Lines that do not agree within their uncertainties are left out one by one, worst first; what
    scatter remains beyond them widens the result (JCGM 100:2008, 5.1 with the Birge ratio).
    """
    rows = []
    for tone in tones:
        order = round(tone.f_hz.value / nominal_hz)
        if not 1 <= order <= ORDERS:
            continue
        # From the tenth multiple on half a per cent would take in half of all frequencies.
        slack = min(_OFF * order * nominal_hz, 0.05 * nominal_hz)
        if abs(tone.f_hz.value - order * nominal_hz) <= slack:
            power = 10 ** (tone.level_dbfs.value / 10)
            rows.append((tone.f_hz.value / order, max(tone.f_hz.u, 1e-6) / order, power))
    while len(rows) >= _LEAST_LINES:
        f, u, powers = np.array(rows).T
        weight = 1 / np.square(u)
        mean = float(np.sum(weight * f) / np.sum(weight))
        z = np.abs(f - mean) / np.hypot(u, 2e-3)
        worst = int(np.argmax(z))
        if z[worst] > _WORST_Z:
            rows.pop(worst)
            continue
        chi2 = float(np.sum(np.square((f - mean) / u)))
        birge = math.sqrt(max(1.0, chi2 / (len(rows) - 1)))
        widened = birge / math.sqrt(float(np.sum(weight)))
        return Estimate(mean, widened, "Hz"), float(np.sum(powers)), nominal_hz
    return None, 0.0, nominal_hz
