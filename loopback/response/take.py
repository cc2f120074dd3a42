"""Read one take: deconvolve both sweeps, read the tones and the silence, let the samples go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.delay import coarse_delay, phase_delay_s, rotation
from loopback.response.harmonics import read_harmonics
from loopback.response.locate import MOST_STRETCH, Located
from loopback.response.reading import TakeReading
from loopback.response.silence import noise_variance, silence_density
from loopback.response.sweeps import SweepKernel, sweep_kernel, sweep_spectrum
from loopback.response.tones import clock_stretch, read_tones
from loopback.signal.take import Signal, layout_of

_ONE_CLOCK = 0.1e-6
"""Two separate clocks never agree this well; what is measured below it is the phase of a tone."""
_EARLY_S = 0.02
"""A check cable is heard before a pedal that converts; both are read from the same samples."""
_CLEAR = 0.05
"""Below this coherence between neighbouring bins the phase tells no delay."""


@dataclass(frozen=True, slots=True)
class _Sweep:
    """One deconvolved sweep of one channel."""

    cross: C128
    delay: float
    coherence: float
    back: float
    window_length: int


def read_take(
    samples: F64,
    signal: Signal,
    located: Located,
    *,
    run_id: str,
    recording: str,
    number: int,
    path_channel: int,
    check_channel: int | None,
) -> TakeReading:
    """Read one located take.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels)
        The recording, fraction of full scale.
    signal : Signal
        What was played.
    located : Located
        Where; both sweeps must be in the recording.
    run_id, recording, number : str, str, int
        Where it comes from, carried along.
    path_channel : int
        Channel of the pedal path, from 0.
    check_channel : int or None
        Channel of the check cable; None: there is none.

    Returns
    -------
    TakeReading
        Small arrays only.

    Raises
    ------
    ArgumentError
        If a sweep is cut off, or the recording has another sample rate than the signal.
    """
    if not located.usable:
        raise ArgumentError(
            f"The take has no {' and no '.join(located.missing)}.",
            "Nothing can be read from it.",
            "Record it again from before the first tone to after the last.",
        )
    if abs(located.stretch) > MOST_STRETCH:
        raise ArgumentError(
            f"The take runs {100 * located.stretch:+.2f} % too long.",
            "It was recorded at another sample rate than its file says.",
            f"Export it again at {signal.rate_hz} Hz.",
        )
    path = samples[:, path_channel]
    checked = None if check_channel is None else samples[:, check_channel]
    start, assumed = located.start, located.stretch if located.found else 0.0
    stretch = _stretch([path] if checked is None else [checked, path], signal, start, assumed)
    tones = read_tones(path, signal, start, stretch)
    check_tones = () if checked is None else read_tones(checked, signal, start, stretch)

    kernel = sweep_kernel(signal)
    spectrum, energy = sweep_spectrum(signal, stretch)
    check: C128 | None = None
    fallback = 0.0
    if checked is not None:
        pair = _both_sweeps(checked, signal, kernel, spectrum, start, stretch)
        fallback = pair[0].delay if pair[0].coherence > _CLEAR else 0.0
        check = (
            _bands(pair[0], kernel, energy, fallback) + _bands(pair[1], kernel, energy, fallback)
        ) / 2
    rising, falling = _both_sweeps(path, signal, kernel, spectrum, start, stretch)
    delay = rising.delay if rising.coherence > _CLEAR else fallback
    up, down = _bands(rising, kernel, energy, delay), _bands(falling, kernel, energy, delay)
    noise_f_hz, noise_psd = silence_density(path, signal, start, stretch)
    var = noise_variance(kernel, noise_f_hz, noise_psd, rising.window_length)
    harmonics = read_harmonics(rising.cross, signal, kernel, delay + rising.back, (up + down) / 2)
    ends = path[max(0, start) : start + int(layout_of(signal).length * (1 + stretch)) + 1]
    return TakeReading(
        run_id=run_id,
        recording=recording,
        number=number,
        start=start,
        stretch=stretch,
        f_hz=kernel.f_hz,
        up=up,
        down=down,
        var=var,
        delay_s=phase_delay_s(kernel.f_hz, up + down, 1 / var, delay / signal.rate_hz),
        harmonics=harmonics,
        check=check,
        tones=tones,
        check_tones=check_tones,
        noise_f_hz=noise_f_hz,
        noise_psd=noise_psd,
        peak=float(max(ends.max(), -ends.min())),
    )


def _stretch(channels: Sequence[F64], signal: Signal, start: int, assumed: float) -> float:
    """Ratio of the clocks, exactly 0 where one clock serves both ways."""
    for channel in channels:
        found = clock_stretch(channel, signal, start, assumed)
        if found is not None:
            return found if abs(found) > _ONE_CLOCK else 0.0
    # No straight line through the tones: lost samples look like a stretch and must not be one.
    return 0.0


def _both_sweeps(
    channel: F64,
    signal: Signal,
    kernel: SweepKernel,
    spectrum: C128,
    start: int,
    stretch: float,
) -> tuple[_Sweep, _Sweep]:
    layout = layout_of(signal)
    up, down = layout.segment("up"), layout.segment("down")
    rest_stop, tail_stop = layout.segment("rest").stop, layout.segment("tail").stop
    sweeps = []
    for segment, stop in ((up, rest_stop), (down, tail_stop)):
        exact = segment.start * (1 + stretch)
        early = round(_EARLY_S * signal.rate_hz)
        begin = max(round(exact) - early, -start)
        end = min(int(stop * (1 + stretch)) - early, begin + kernel.n_fft)
        window = np.ascontiguousarray(channel[start + begin : start + end])
        recorded = np.fft.rfft(window, kernel.n_fft)[kernel.first : kernel.last]
        back = exact - begin
        if segment is up:
            cross = recorded * spectrum.conj()
        else:
            # Reversed in time: conjugate spectrum, counted from the last sample.
            cross = recorded * spectrum
            back += (up.length - 1) * (1 + stretch)
        delay, coherence = coarse_delay(cross, kernel.first, kernel.n_fft, kernel.rate_hz)
        delay = (delay - back + kernel.n_fft / 2) % kernel.n_fft - kernel.n_fft / 2
        sweeps.append(_Sweep(cross, delay, coherence, back, len(window)))
    return sweeps[0], sweeps[1]


def _bands(sweep: _Sweep, kernel: SweepKernel, energy: F64, delay: float) -> C128:
    """Average over each band with the delay off, then put the delay back at the band's centre."""
    turned = sweep.cross * rotation(
        delay + sweep.back, kernel.first, len(sweep.cross), kernel.n_fft
    )
    mean = kernel.band_sums(turned) / energy
    return np.asarray(mean * np.exp(-2j * np.pi * kernel.f_hz * delay / kernel.rate_hz))
