"""Read one take: deconvolve both sweeps, read the tones and the silence, let the samples go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.delay import coarse_delay, phase_delay_s
from loopback.response.harmonics import Silence, read_harmonics
from loopback.response.leakage import leaked_variance
from loopback.response.locate import MOST_STRETCH, Located
from loopback.response.reading import TakeReading
from loopback.response.silence import noise_variance, silence_density
from loopback.response.sweeps import band_means, matched_filters, sweep_kernel
from loopback.response.tones import clock_stretch, read_tones
from loopback.signal.layout import SegmentName
from loopback.signal.take import Signal, layout_of

_ONE_CLOCK = 0.1e-6
"""Two separate clocks never agree this well; what is measured below it is the phase of a tone."""
_EARLY_S = 0.02
"""A check cable is heard before a pedal that converts; both are read from the same samples."""
_LEAST_LEAD_S = 0.01
_PART_HZ = 300
_PERIODS = (5, 6)
"""In parts of 1/300 s: of mains at 60 and at 50 Hz."""
_CLEAR = 0.05
"""Below this coherence between neighbouring bins the phase tells no delay."""


@dataclass(frozen=True, slots=True)
class _Sweeps:
    """Both sweeps of one channel, times the conjugates of those that were played.

    Delay, its coherence and the recorded samples in the transform are those of the upward one.
    """

    up: C128
    down: C128
    delay: float
    coherence: float
    window_length: int
    energy: F64


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
    check: C128 | None = None
    fallback = 0.0
    if checked is not None:
        sweeps = _both_sweeps(checked, signal, start, stretch)
        fallback = sweeps.delay if sweeps.coherence > _CLEAR else 0.0
        check = band_means(sweeps.up, kernel, sweeps.energy, fallback)
        check = (check + band_means(sweeps.down, kernel, sweeps.energy, fallback)) / 2
    sweeps = _both_sweeps(path, signal, start, stretch)
    delay = sweeps.delay if sweeps.coherence > _CLEAR else fallback
    up = band_means(sweeps.up, kernel, sweeps.energy, delay)
    down = band_means(sweeps.down, kernel, sweeps.energy, delay)
    noise_f_hz, noise_psd = silence_density(path, signal, start, stretch)
    var = noise_variance(kernel, noise_f_hz, noise_psd, sweeps.window_length)
    lead = _EARLY_S * signal.rate_hz
    var = var + leaked_variance(signal, noise_f_hz, noise_psd, sweeps.window_length, lead)
    silence = Silence(noise_f_hz, noise_psd, sweeps.window_length)
    harmonics, harmonics_var = read_harmonics(
        sweeps.up, signal, kernel, delay, (up + down) / 2, silence
    )
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
        harmonics_var=harmonics_var,
    )


def _stretch(channels: Sequence[F64], signal: Signal, start: int, assumed: float) -> float:
    """Ratio of the clocks, exactly 0 where one clock serves both ways."""
    for channel in channels:
        found = clock_stretch(channel, signal, start, assumed)
        if found is not None:
            return found if abs(found) > _ONE_CLOCK else 0.0
    # No straight line through the tones: lost samples look like a stretch and must not be one.
    return 0.0


def _both_sweeps(channel: F64, signal: Signal, start: int, stretch: float) -> _Sweeps:
    """Transform both sweeps of a channel."""
    layout, kernel = layout_of(signal), sweep_kernel(signal)
    early = round(_EARLY_S * signal.rate_hz)
    offset = _offset(channel, signal, start)
    windows, leads = [], []
    pairs: tuple[tuple[SegmentName, SegmentName], ...] = (("up", "rest"), ("down", "tail"))
    for name, after in pairs:
        exact = layout.segment(name).start * (1 + stretch)
        begin = max(round(exact) - early, -start)
        stop = int(layout.segment(after).stop * (1 + stretch)) - early
        windows.append(channel[start + begin : start + stop] - offset)
        leads.append(exact - begin)
    up, down, energy = matched_filters(signal, stretch, leads[0], leads[1])
    crosses, lengths = [], []
    for window, matched in zip(windows, (up, down), strict=True):
        samples = folded(window, kernel.n_fft, signal.rate_hz)
        cross = np.fft.rfft(samples, kernel.n_fft)[kernel.first : kernel.last]
        cross *= matched
        crosses.append(cross)
        lengths.append(len(samples))
    delay, coherence = coarse_delay(crosses[0], kernel.first, kernel.n_fft, kernel.rate_hz)
    return _Sweeps(crosses[0], crosses[1], delay, coherence, lengths[0], energy)


def _offset(channel: F64, signal: Signal, start: int) -> float:
    """Mean of the lead, as far as it is there: an offset would leak into the lowest bands."""
    lead = channel[max(0, start) : max(0, start + layout_of(signal).segment("lead").length)]
    return float(lead.mean()) if len(lead) > _LEAST_LEAD_S * signal.rate_hz else 0.0


def folded(window: F64, n_fft: int, rate_hz: int) -> F64:
    """Add what is longer than the transform to its beginning, as a circular response has it.

    Only the slow decay of coupling capacitors lasts that long, so it is taken from means over one
    period of either mains frequency, and brings neither hum nor noise along.

    Parameters
    ----------
    window : ndarray of float64, shape (n,)
        From a sweep's start; changed in place.
    n_fft : int
        Length of the transform.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (min(n, n_fft),)
        What to transform.
    """
    extra = window[n_fft:]
    block = round(rate_hz / _PART_HZ)
    count = len(extra) // block
    if count > 2 * sum(_PERIODS):
        means = extra[: count * block].reshape(count, block).mean(axis=1)
        for parts in _PERIODS:
            means = np.convolve(means, np.full(parts, 1 / parts), "valid")
        # Half of their length before the first mean; the decay goes on as it began.
        ends = (sum(_PERIODS) - 1) // 2
        rise = (means[0] - means[min(2 * ends, len(means) - 1)]) / min(2 * ends, len(means) - 1)
        means = np.concatenate(([means[0] + ends * rise], means))
        middles = np.concatenate(([0.0], (np.arange(len(means) - 1) + ends) * block))
        window[: count * block] += np.interp(np.arange(count * block), middles, means)
    return window[:n_fft]
