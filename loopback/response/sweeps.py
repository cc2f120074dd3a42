"""The two sweeps of a signal, ready for deconvolution: spectra, bands and their moments."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import rotation
from loopback.signal.take import Signal, layout_of, render_sweep

BANDS_PER_OCTAVE = 48
_SLIGHT_RAD = 0.1
_AFTER_S = 0.62
"""Room after a sweep: all of the rest, less what lies before the sweep; a 1 Hz high-pass has fallen
to 2 % by then, in run and reference alike."""


@dataclass(frozen=True, slots=True)
class SweepKernel:
    """One sweep, as it would arrive through a wire, in the frequency domain.

    Parameters
    ----------
    rate_hz : int
        Sample rate.
    n_fft : int
        Length of the transform, a product of 2, 3 and 5.
    length : int
        Samples of one sweep.
    first, last : int
        First transform bin used, and the one after the last.
    spectrum : ndarray of complex128, shape (last - first,)
        Of the upward sweep; the downward one follows by reversal of time.
    edges : ndarray of int64, shape (k,)
        First bin of each band, counted from `first`.
    energy : ndarray of float64, shape (k,)
        Sum of the squared magnitude of `spectrum` over each band.
    f_hz : ndarray of float64, shape (k,)
        Centre of each band, weighted with that energy, so that a response which changes linearly
        within a band is averaged without error.
    moments : ndarray of float64, shape (3, k)
        Second to fourth moment of the bins of each band about its centre, with the same weight.
    """

    rate_hz: int
    n_fft: int
    length: int
    first: int
    last: int
    spectrum: C128
    edges: np.ndarray[tuple[int], np.dtype[np.int64]]
    energy: F64
    f_hz: F64
    moments: F64

    def band_sums(self, values: C128) -> C128:
        """Sum one value per bin over each band."""
        return np.add.reduceat(values, self.edges)


def fast_length(least: int) -> int:
    """Return the smallest product of powers of 2, 3 and 5 that is not below `least`.

    Parameters
    ----------
    least : int
        At least 1.

    Returns
    -------
    int
        A length whose Fourier transform is quick.
    """
    best = 1 << (least - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            rest = -(-least // three)
            best = min(best, three << (rest - 1).bit_length())
            three *= 3
        five *= 5
    return best


@lru_cache(maxsize=2)
def sweep_kernel(signal: Signal) -> SweepKernel:
    """Return the kernel of a signal, made once.

    Parameters
    ----------
    signal : Signal
        What was played.

    Returns
    -------
    SweepKernel
        Bands of 1/48 octave, single bins where a band would be narrower than one. Only bands that
        the sweep crosses whole: it starts below the first, and fades out above the last. In a band
        that is swept in part, a loud pedal's harmonics and its start from silence outweigh it.
    """
    rate = signal.rate_hz
    length = layout_of(signal).segment("up").length
    n_fft = fast_length(length + round(_AFTER_S * rate))
    step = rate / n_fft
    first = int(np.ceil(signal.f1_hz / step + 0.5))
    octaves = np.log2(signal.full_to_hz / signal.f1_hz)
    wanted = signal.f1_hz * 2.0 ** np.arange(0, octaves, 1 / BANDS_PER_OCTAVE) / step
    edges = np.unique(np.maximum(np.ceil(wanted).astype(np.int64), first))
    # The last edge closes the last band.
    last = int(edges[-1])
    edges = edges[:-1] - first
    spectrum = np.fft.rfft(render_sweep(signal), n_fft)[first:last]
    power = np.abs(spectrum) ** 2
    energy = np.add.reduceat(power, edges)
    bins = np.arange(first, last)
    centre = np.add.reduceat(power * bins, edges) / energy
    off = bins - np.repeat(centre, np.diff(np.append(edges, last - first)))
    moments = np.stack([np.add.reduceat(power * off**n, edges) / energy for n in (2, 3, 4)])
    f_hz = centre * step
    for array in (spectrum, edges, energy, f_hz, moments):
        array.flags.writeable = False
    return SweepKernel(rate, n_fft, length, first, last, spectrum, edges, energy, f_hz, moments)


def sweep_spectrum(signal: Signal, stretch: float) -> tuple[C128, F64]:
    """Return the spectrum of the upward sweep as a recorder with another clock would write it.

    The sweep is rendered again at the recorder's sample times, which is exact where resampling
    the recording would not be.

    Parameters
    ----------
    signal : Signal
        What was played.
    stretch : float
        Recorded over played duration, minus 1.

    Returns
    -------
    spectrum : ndarray of complex128, shape (m,)
        On the bins of `sweep_kernel`.
    energy : ndarray of float64, shape (k,)
        Sum of its squared magnitude over each band.
    """
    kernel = sweep_kernel(signal)
    if stretch == 0.0:
        return kernel.spectrum, kernel.energy
    whole = np.fft.rfft(render_sweep(signal, stretch), kernel.n_fft)
    spectrum = whole[kernel.first : kernel.last]
    return spectrum, np.add.reduceat(np.abs(spectrum) ** 2, kernel.edges)


@lru_cache(maxsize=2)
def matched_filters(
    signal: Signal, stretch: float, lead_up: float, lead_down: float
) -> tuple[C128, C128, F64]:
    """Return what the transform of a window is multiplied with, so that time zero is the sweep's.

    Parameters
    ----------
    signal : Signal
        What was played.
    stretch : float
        Ratio of the clocks, minus 1.
    lead_up, lead_down : float
        Samples from the start of the window to the start of the sweep.

    Returns
    -------
    up, down : ndarray of complex128, shape (m,)
        Conjugate spectra with the lead taken off, on the bins of `sweep_kernel`.
    energy : ndarray of float64, shape (k,)
        Of each band.
    """
    kernel = sweep_kernel(signal)
    spectrum, energy = sweep_spectrum(signal, stretch)
    # Reversed in time: the spectrum itself, counted from the sweep's last sample.
    last = lead_down + (kernel.length - 1) * (1 + stretch)
    up = spectrum.conj() * rotation(lead_up, kernel.first, len(spectrum), kernel.n_fft)
    down = spectrum * rotation(last, kernel.first, len(spectrum), kernel.n_fft)
    return up, down, energy


def band_means(cross: C128, kernel: SweepKernel, energy: F64, delay: float) -> C128:
    """Response of each band at its centre, averaged as if there were no delay.

    Parameters
    ----------
    cross : ndarray of complex128, shape (m,)
        Recorded spectrum times matched filter.
    kernel : SweepKernel
        The sweep.
    energy : ndarray of float64, shape (k,)
        Of the sweep as recorded.
    delay : float
        Samples by which the phase turns within a band.

    Returns
    -------
    ndarray of complex128, shape (k,)
        The delay stays in its phase.
    """
    per_bin = 2 * np.pi * delay / kernel.n_fft
    if abs(per_bin) * float(np.max(kernel.moments[0])) ** 0.5 < _SLIGHT_RAD:
        # The mean of exp(-jφ) over the band from its moments is cheaper than turning every bin.
        second, third, fourth = kernel.moments
        factor = (
            1 - per_bin**2 * second / 2 + per_bin**4 * fourth / 24 + 1j * per_bin**3 * third / 6
        )
        return np.asarray(kernel.band_sums(cross) / (energy * factor))
    turned = cross * rotation(delay, kernel.first, len(cross), kernel.n_fft)
    back = np.exp(-2j * np.pi * kernel.f_hz * delay / kernel.rate_hz)
    return np.asarray(kernel.band_sums(turned) / energy * back)
