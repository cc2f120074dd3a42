"""Recordings made up in the plainest way: a take through a response, noise, another clock."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from loopback.arrays import C128, F64
from loopback.signal.take import Signal, plan_signal, render_take

SHORT = plan_signal(48_000, 1.0)
"""One second each way: enough for everything but the lowest octave."""

Response = Callable[[F64], C128]


def wire(f_hz: F64) -> C128:
    """A response of one."""
    return np.ones(len(f_hz), dtype=np.complex128)


def low_pass(corner_hz: float, gain: float = 1.0) -> Response:
    """One pole."""
    return lambda f_hz: np.asarray(gain / (1 + 1j * f_hz / corner_hz), dtype=np.complex128)


def shelf(low_hz: float, high_hz: float) -> Response:
    """One pole and one zero: what a small capacitor does through a resistor."""
    return lambda f_hz: np.asarray(
        (1 + 1j * f_hz / high_hz) / (1 + 1j * f_hz / low_hz), dtype=np.complex128
    )


def recorded(
    response: Response = wire,
    *,
    signal: Signal = SHORT,
    delay: float = 0.0,
    head: int = 500,
    tail: int = 500,
    noise: float = 0.0,
    seed: int = 0,
) -> F64:
    """One channel: silence, the take through the response, silence, white noise over all of it.

    `delay` is in samples and need not be whole.
    """
    played = np.concatenate([np.zeros(head), render_take(signal), np.zeros(tail)])
    n_fft = 1 << (len(played) + signal.rate_hz).bit_length()
    f_hz = np.fft.rfftfreq(n_fft, 1 / signal.rate_hz)
    turn = np.exp(-2j * np.pi * f_hz * delay / signal.rate_hz)
    spectrum = np.fft.rfft(played, n_fft) * response(f_hz) * turn
    heard = np.fft.irfft(spectrum, n_fft)[: len(played)]
    return np.asarray(heard + noise * np.random.default_rng(seed).standard_normal(len(heard)))


def other_clock(samples: F64, stretch: float) -> F64:
    """The same sound as a recorder writes it whose clock is faster by `stretch`.

    Interpolated by a spline through eight times as many samples: good to about 1e-7.
    """
    from scipy.interpolate import CubicSpline

    times = 8
    n_fft = 1 << (len(samples) - 1).bit_length()
    spectrum = np.fft.rfft(samples, n_fft)
    fine = np.fft.irfft(spectrum, n_fft * times)[: len(samples) * times] * times
    wanted = np.arange(int(len(samples) * (1 + stretch)) - 1) / (1 + stretch)
    return np.asarray(CubicSpline(np.arange(len(fine)) / times, fine)(wanted))
