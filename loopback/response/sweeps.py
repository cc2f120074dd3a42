"""The two sweeps of a signal, ready for deconvolution: spectra, bands and their moments."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.signal.take import Signal, layout_of, render_sweep

BANDS_PER_OCTAVE = 48
_AFTER_S = 0.8
"""Room after a sweep for what still rings; a 1 Hz high-pass has fallen to 0.7 % by then."""


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
        Bands of 1/48 octave, single bins where a band would be narrower than one.
    """
    rate = signal.rate_hz
    length = layout_of(signal).segment("up").length
    n_fft = fast_length(length + round(_AFTER_S * rate))
    step = rate / n_fft
    first, last = int(np.ceil(signal.f1_hz / step)), int(signal.f2_hz / step) + 1
    spectrum = np.fft.rfft(render_sweep(signal), n_fft)[first:last]
    octaves = np.log2(signal.f2_hz / signal.f1_hz)
    wanted = signal.f1_hz * 2.0 ** np.arange(0, octaves, 1 / BANDS_PER_OCTAVE) / step
    edges = np.unique(np.maximum(np.ceil(wanted).astype(np.int64), first)) - first
    edges = edges[edges < last - first]
    power = np.abs(spectrum) ** 2
    energy = np.add.reduceat(power, edges)
    f_hz = np.add.reduceat(power * np.arange(first, last), edges) / energy * step
    for array in (spectrum, edges, energy, f_hz):
        array.flags.writeable = False
    return SweepKernel(rate, n_fft, length, first, last, spectrum, edges, energy, f_hz)


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
