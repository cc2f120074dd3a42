"""Join the takes of a run: mean response, and its variance from silence, repeats and residual."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.delay import phase_delay_s
from loopback.response.reading import RunResponse, TakeReading
from loopback.response.spread import pooled_variance

_GAIN_LOW_HZ, _GAIN_HIGH_HZ = 200.0, 5000.0


def join_takes(readings: Sequence[TakeReading]) -> RunResponse:
    """Average the takes of one run.

    Up and down sweeps of all takes are equal repeats. What they differ by in common gain is drift
    and is told in `repeat_db`; what remains is noise, and is trusted only when pooled over
    neighbouring bands.

    Parameters
    ----------
    readings : sequence of TakeReading
        Takes of one run and one signal, one or more. With a check channel on all of them each take
        is timed by it, else by its own phase.

    Returns
    -------
    RunResponse
        On the grid of the takes.

    Raises
    ------
    ArgumentError
        If there is no take.
    """
    if not readings:
        raise ArgumentError("A run without a usable take was given.", "", "Record it again.")
    first = readings[0]
    f_hz = first.f_hz
    omega = 2 * np.pi * f_hz
    weight = 1 / first.var
    rows = []
    gains = []
    checks = [reading.check for reading in readings]
    held = all(check is not None for check in checks)
    for reading, check in zip(readings, checks, strict=True):
        mean = (reading.up + reading.down) / 2
        if held and check is not None:
            shift = phase_delay_s(f_hz, check, np.abs(check) ** 2, _coarse(f_hz, check))
        else:
            base = reading.delay_s - first.delay_s
            relative = mean * (first.up + first.down).conj()
            shift = phase_delay_s(f_hz, relative, weight, base) if len(readings) > 1 else 0.0
        turn = np.exp(1j * omega * shift)
        rows.append((reading.up * turn, reading.down * turn))
        gains.append(_gain(f_hz, mean, first))
    stack = np.array([row for pair in rows for row in pair])
    h = stack.mean(axis=0)
    n = len(stack)
    silence = sum((reading.var for reading in readings), np.zeros(len(f_hz))) * 2 / n**2
    level = np.repeat(np.array(gains) / np.mean(gains), 2)
    apart = stack / level[:, None] - (stack / level[:, None]).mean(axis=0)
    residual = np.sum(np.abs(apart) ** 2, axis=0) / (n - 1) / n
    # In proportion to the silence, since the sweep's energy differs from band to band.
    var = silence * np.maximum(1.0, pooled_variance(residual / silence, 2 * (n - 1)))
    db = 20 * np.log10(np.array(gains))
    delay_guess = first.delay_s
    if held and checks[0] is not None:
        delay_guess -= _coarse(f_hz, checks[0])
    return RunResponse(
        run_id=first.run_id,
        f_hz=f_hz,
        h=h,
        var=var,
        delay_s=phase_delay_s(f_hz, h, 1 / var, delay_guess),
        repeat_db=float(db.max() - db.min()),
        takes=len(readings),
        stretch=max(abs(reading.stretch) for reading in readings),
    )


def _gain(f_hz: F64, h: C128, weights_of: TakeReading) -> float:
    """Mean gain of a take; weighted alike in every take, or sloping responses seem to differ."""
    band = (f_hz >= _GAIN_LOW_HZ) & (f_hz <= _GAIN_HIGH_HZ)
    weight = np.maximum(np.abs(weights_of.up[band]) ** 2 / weights_of.var[band], 1.0)
    size = np.log(np.maximum(np.abs(h[band]), 1e-300))
    return float(np.exp(np.sum(weight * size) / np.sum(weight)))


def _coarse(f_hz: F64, h: C128) -> float:
    """Delay from neighbouring bands, unambiguous below about 1 ms."""
    band = (f_hz >= _GAIN_LOW_HZ) & (f_hz <= 2000.0)
    steps = h[band][1:] * h[band][:-1].conj()
    return -float(np.sum(np.angle(steps))) / (2 * np.pi * float(f_hz[band][-1] - f_hz[band][0]))
