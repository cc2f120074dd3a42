"""Do the two sweeps of a take agree? What only one of them has seen did not come from the pedal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import phase_delay_s
from loopback.response.reading import TakeReading

_LOW_HZ, _HIGH_FRACTION = 20.0, 0.95
_WIDTHS = (1, 4, 12, 36, 108)
"""Bands averaged: from one to more than two octaves, a second or so of a sweep."""
_DB = 20 / np.log(10)


@dataclass(frozen=True, slots=True)
class Agreement:
    """Upward over downward sweep of one take.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid, 20 Hz to 95 % of the top.
    difference : ndarray of complex128, shape (k,)
        ``up/down - 1``, with common gain and delay taken off.
    sd : ndarray of float64, shape (k,)
        Standard deviation of each component of it that the silence explains.
    gain_db : float
        Common gain of up over down: drift within the take.
    slip_s : float
        Common delay of up over down: another clock, or lost samples.
    worst_db : float
        Level difference of the most striking stretch, averaged over it.
    worst_f_hz : float
        Its centre.
    worst_octaves : float
        Its width.
    worst_score : float
        How many of its standard deviations that stretch is away from zero; noise alone reaches
        about 4. Judge by score and by size together: harmonics at -100 dB already leave differences
        of 0.0001 dB that no noise explains.
    """

    f_hz: F64
    difference: C128
    sd: F64
    gain_db: float
    slip_s: float
    worst_db: float
    worst_f_hz: float
    worst_octaves: float
    worst_score: float


def up_down_difference(reading: TakeReading) -> Agreement:
    """Compare the two sweeps of a take, band by band and stretch by stretch.

    A stretch of the recording that was changed, in gain or by damaged samples, meets the two sweeps
    at different frequencies, and so is the one thing that a response cannot imitate. Of the limits
    see `Agreement.worst_score`.

    Parameters
    ----------
    reading : TakeReading
        One take.

    Returns
    -------
    Agreement
        Of a silent path it says nothing: `sd` is then above 1.
    """
    top = _HIGH_FRACTION * reading.f_hz[-1]
    band = (reading.f_hz >= _LOW_HZ) & (reading.f_hz <= top)
    f_hz, up, down = reading.f_hz[band], reading.up[band], reading.down[band]
    size = np.maximum(np.abs(up + down) / 2, 1e-15)
    sd = np.sqrt(reading.var[band]) / size
    ratio = up / np.where(down == 0, 1e-15, down)
    slip = phase_delay_s(f_hz, ratio, 1 / sd**2)
    ratio = ratio * np.exp(2j * np.pi * f_hz * slip)
    # The median holds even when a third of the band was disturbed; a mean would share it out.
    gain = float(np.exp(np.median(np.log(np.maximum(np.abs(ratio), 1e-15)))))
    difference = ratio / gain - 1
    worst = (0.0, 0.0, 0.0, 0.0)
    for width in _WIDTHS:
        if width > len(f_hz):
            break
        weight = np.ones(width) / width
        mean = np.convolve(difference.real, weight, "valid")
        doubt = np.sqrt(np.convolve(sd**2, weight**2, "valid"))
        score = np.abs(mean) / doubt
        at = int(np.argmax(score))
        if score[at] > worst[0]:
            middle = float(np.sqrt(f_hz[at] * f_hz[at + width - 1]))
            octaves = float(np.log2(f_hz[at + width - 1] / f_hz[at])) + 1 / 48
            worst = (float(score[at]), float(mean[at]), middle, octaves)
    return Agreement(
        f_hz=f_hz,
        difference=np.asarray(difference),
        sd=sd,
        gain_db=_DB * float(np.log(gain)),
        slip_s=slip,
        worst_db=_DB * worst[1],
        worst_f_hz=worst[2],
        worst_octaves=worst[3],
        worst_score=worst[0],
    )
