"""The cliff at the top of a response that lossy compression or another sample rate leaves."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal


def band_edge_hz(f_hz: F64, h: C128) -> float | None:
    """Find a cliff at the top of a response that only a digital filter makes.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Logarithmic grid.
    h : ndarray of complex128, shape (k,)
        Response.

    Returns
    -------
    float or None
        Where the response begins to fall; None: it has no cliff below the end of the sweep.
    """
    level = 20 * np.log10(np.maximum(np.abs(h), 1e-12))
    # Beyond a cliff there is only noise, and its chance nulls are steeper than any filter.
    level = np.maximum(level, np.max(level) - limits.BAND_EDGE_FLOOR_DB)
    # Counted at the top: at the bottom the grid is no finer than the sweep can tell.
    step = max(1, round(np.count_nonzero(f_hz > f_hz[-1] / 2) / 6))
    top = f_hz > 3000.0
    if np.count_nonzero(top) <= step:
        return None
    fall = level[:-step] - level[step:]
    fall[~top[:-step]] = -np.inf
    at = int(np.argmax(fall))
    if fall[at] < limits.BAND_EDGE_DROP_DB:
        return None
    before = level[max(0, at - step)]
    inside = np.flatnonzero(level[at:] < before - 6.0)
    return float(f_hz[at + int(inside[0])]) if len(inside) else float(f_hz[at])


def judge_band_edge(
    reading: TakeReading, signal: Signal, where: str, *, is_reference: bool
) -> tuple[Finding, ...]:
    """Look for the cliff of lossy compression or of a conversion of the sample rate.

    Parameters
    ----------
    reading : TakeReading
        Of the take.
    signal : Signal
        What was played.
    where : str
        Run and take.
    is_reference : bool
        A digital pedal has such an edge of its own; a coupler has none.

    Returns
    -------
    tuple of Finding
        Codes ``lossy``, ``resampled``, ``band_edge``.
    """
    mean = (reading.up + reading.down) / 2
    edge = band_edge_hz(reading.f_hz, mean)
    if edge is None and is_reference and top_bend_db(reading.f_hz, mean) > limits.TOP_BEND_DB:
        edge = 0.92 * signal.f2_hz
    if edge is None or edge > 0.98 * signal.f2_hz:
        return ()
    number = f"nothing above {edge / 1000:.1f} kHz"
    if not is_reference:
        return (
            Finding(
                "band_edge",
                "look",
                number,
                "A digital pedal does this; so does a file that was compressed or converted.",
                "Make sure that reference and pedal were recorded and exported in the same way.",
                where,
            ),
        )
    if edge < 19_000.0:
        return (
            Finding(
                "lossy",
                "refuse",
                number,
                "This is the mark of lossy compression, such as a voice note or an MP3.",
                "Send WAV or FLAC, from the recorder itself.",
                where,
            ),
        )
    return (
        Finding(
            "resampled",
            "refuse",
            number,
            "The sample rate was converted on the way: a system mixer, or an export.",
            f"Set device, program and export all to {signal.rate_hz / 1000:g} kHz.",
            where,
        ),
    )


def top_bend_db(f_hz: F64, h: C128) -> float:
    """Fall over the last eighth of the sweep beyond the fall over the eighth before it.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Logarithmic grid.
    h : ndarray of complex128, shape (k,)
        Response.

    Returns
    -------
    float
        dB; a resistor and a lead make at most 0.3.
    """
    level = 20 * np.log10(np.maximum(np.abs(h), 1e-12))
    at = np.interp(np.log(np.array([0.75, 0.86, 0.97]) * f_hz[-1]), np.log(f_hz), level)
    return float((at[1] - at[2]) - (at[0] - at[1]))
