"""The line from moment to moment: what a tone, or short sweeps, come out as against the usual."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.signal.watch import Watch
from loopback.signal.watch_sweeps import frequency_at, sweep_period
from loopback.switching.contacts import amplitude_over_time

STEP_S = 1e-3
"""Moments at which the tone is read; each is a mean over this long."""
SWEEP_STEP_S = 5e-3
"""The same of short sweeps: two periods and a half of their lowest frequency."""
_LEAST_SWEEPS = 5


@dataclass(frozen=True, slots=True)
class Moments:
    """Complex amplitude from moment to moment.

    Parameters
    ----------
    values : ndarray of complex128, shape (m,)
        Amplitude of the tone; of sweeps, over that of the usual sweep.
    step_s : float
        From one to the next, seconds.
    rest : ndarray of float64, shape (n,)
        What is left of the recording when the tone or the usual sweep is taken off.
    f_hz : ndarray of float64, shape (m,), or None
        Which frequency sounded then; None: always the tone.
    """

    values: C128
    step_s: float
    rest: F64
    f_hz: F64 | None = None


def moments_of(part: F64, rate_hz: int, watch: Watch) -> Moments:
    """Read a recording moment by moment.

    Parameters
    ----------
    part : ndarray of float64, shape (n,)
        The stretch in which tone or sweeps sound all the time.
    rate_hz : int
        Sample rate.
    watch : Watch
        What was played.

    Returns
    -------
    Moments
        Empty where the stretch is too short.
    """
    if watch.sweeps is not None:
        return _of_sweeps(part, rate_hz, watch.sweeps)
    amplitude = amplitude_over_time(part, watch.tone_hz, rate_hz, STEP_S * watch.tone_hz)
    hop = round(STEP_S * rate_hz)
    return Moments(amplitude[hop // 2 :: hop], STEP_S, _without_tone(part, rate_hz, watch.tone_hz))


def _without_tone(part: F64, rate_hz: int, tone_hz: float) -> F64:
    size = round(0.05 * rate_hz)
    count = len(part) // size
    t = np.arange(size) * (2 * np.pi * tone_hz / rate_hz)
    basis = np.stack([np.sin(t), np.cos(t), np.ones(size)])
    blocks = part[: count * size].reshape(count, size)
    return np.asarray((blocks - (blocks @ np.linalg.pinv(basis)) @ basis).ravel())


def _of_sweeps(part: F64, rate_hz: int, sweep_s: float) -> Moments:
    """Compare each stretch of each sweep with the same stretch of the usual one.

    The usual sweep is the median of all, sample by sample. A stretch is fitted by the usual one and
    by the same turned by a quarter of a period, which gives level and phase.
    """
    period = round(sweep_s * rate_hz)
    count, steps = len(part) // period, max(1, round(period / (SWEEP_STEP_S * rate_hz)))
    if count < _LEAST_SWEEPS:
        return Moments(np.zeros(0, dtype=np.complex128), SWEEP_STEP_S, part)
    blocks = part[: count * period].reshape(count, period)
    usual = np.median(blocks, axis=0)
    usual -= usual.mean()
    quarter = np.fft.irfft(-1j * np.fft.rfft(usual), period)
    hop = period // steps
    values = np.zeros((count, steps), dtype=np.complex128)
    for step in range(steps):
        cut = slice(step * hop, (step + 1) * hop)
        basis = np.stack([usual[cut], quarter[cut]])
        gram = basis @ basis.T
        if np.linalg.det(gram) > 0:
            along, across = np.linalg.solve(gram, basis @ blocks[:, cut].T)
            values[:, step] = along - 1j * across
    # The recording begins anywhere within a sweep: where, the played one tells.
    played = np.fft.rfft(sweep_period(sweep_s, rate_hz))
    late = int(np.argmax(np.fft.irfft(np.fft.rfft(usual) * np.conj(played), period)))
    shares = (((np.arange(steps) + 0.5) * hop - late) / period) % 1.0
    f_hz = np.array([frequency_at(float(share)) for share in shares])
    return Moments(
        values.ravel(), period / steps / rate_hz, (blocks - usual).ravel(), np.tile(f_hz, count)
    )
