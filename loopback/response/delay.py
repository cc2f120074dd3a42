"""Delays from phase: coarse and unambiguous, fine, and free of what a circuit does to phase."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64

FIT_LOW_HZ, FIT_HIGH_HZ = 200.0, 10_000.0
_END_OCTAVES = 0.5
COARSE_LOW_HZ, COARSE_HIGH_HZ = 1000.0, 12_000.0
_SINGLE, _NOISE = 0.99, 0.05
"""Coherence of one arrival (wires, loads and stages seen: over 0.999), and that of none."""


def coarse_delay(cross: C128, first: int, n_fft: int, rate_hz: float) -> tuple[float, float]:
    """Delay from the phase step between neighbouring bins, without ambiguity.

    Where several arrivals share the record, such as the harmonics of an overdrive, which come
    early, a mean of steps falls between them: then the highest of them is taken.

    Parameters
    ----------
    cross : ndarray of complex128, shape (m,)
        Recorded spectrum times conjugate sweep spectrum on consecutive bins.
    first : int
        Index of the first of these bins.
    n_fft : int
        Length of the transform.
    rate_hz : float
        Sample rate.

    Returns
    -------
    delay : float
        Samples, from -n_fft/2 to n_fft/2.
    coherence : float
        1 for a pure delay, near 0 for noise.
    """
    low = max(0, round(COARSE_LOW_HZ / rate_hz * n_fft) - first)
    part = cross[low : max(low + 2, round(COARSE_HIGH_HZ / rate_hz * n_fft) - first)]
    steps = part[1:] * part[:-1].conj()
    # The sweep has 1/f power; f² in the product gives every hertz the same say.
    weight = np.arange(first + low, first + low + len(steps), dtype=np.float64) ** 2
    steps *= weight
    total, size = complex(steps.sum()), float(np.abs(steps).sum())
    delay = -float(np.angle(total)) * n_fft / (2 * np.pi)
    coherence = abs(total) / size if size > 0 else 0.0
    if _NOISE < coherence < _SINGLE:
        delay = _highest_arrival(part, first + low, n_fft)
    return delay, coherence


def _highest_arrival(part: C128, first: int, n_fft: int) -> float:
    """Time of the highest peak of the band's envelope, in samples from -n_fft/2 to n_fft/2."""
    spectrum = np.zeros(n_fft, dtype=np.complex128)
    spectrum[: len(part)] = part * np.arange(first, first + len(part))  # flat for a plain wire
    envelope = np.abs(np.fft.ifft(spectrum))
    at = int(np.argmax(envelope))
    before, peak, after = (float(envelope[(at + step) % n_fft]) for step in (-1, 0, 1))
    curve = before - 2 * peak + after
    exact = at + (0.5 * (before - after) / curve if curve < 0 else 0.0)
    return exact - n_fft if exact >= n_fft / 2 else exact


def rotation(delay: float, first: int, count: int, n_fft: int) -> C128:
    """Return ``exp(+j 2π k delay / n_fft)`` for consecutive bins, which takes a delay off.

    Parameters
    ----------
    delay : float
        Samples.
    first, count : int
        First bin and how many.
    n_fft : int
        Length of the transform.

    Returns
    -------
    ndarray of complex128, shape (count,)
        As an outer product of two short lists: a hundred times fewer exponentials.
    """
    step = 2j * np.pi * delay / n_fft
    block = 1024
    outer = np.exp(step * (first + block * np.arange(-(-count // block))))
    inner = np.exp(step * np.arange(block))
    return np.asarray(np.multiply.outer(outer, inner).ravel()[:count], dtype=np.complex128)


def phase_delay_s(f_hz: F64, ratio: C128, weight: F64, start_s: float = 0.0) -> float:
    """Least-squares delay of a response that is near a real constant, 200 Hz to 10 kHz.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    ratio : ndarray of complex128, shape (k,)
        Response of either polarity.
    weight : ndarray of float64, shape (k,)
        Inverse variance of the phase, up to a factor.
    start_s : float
        Delay known already; what is found comes on top and must be below about 20 µs.

    Returns
    -------
    float
        Seconds, `start_s` included.
    """
    band = (f_hz >= FIT_LOW_HZ) & (f_hz <= FIT_HIGH_HZ)
    omega = 2 * np.pi * f_hz[band]
    turned = ratio[band] * np.exp(1j * omega * start_s)
    w = weight[band]
    if not np.any(w > 0):  # a dead path has nothing in the band to time
        return start_s
    sign = 1.0 if float(np.sum(w * turned.real / np.maximum(np.abs(turned), 1e-300))) >= 0 else -1.0
    angle = np.unwrap(np.angle(sign * turned))
    return start_s - float(np.sum(w * omega * angle) / np.sum(w * omega**2))


def minimum_phase_rad(f_hz: F64, magnitude: F64) -> F64:
    """Phase that a minimum-phase network of this magnitude must have.

    Bode's integral of the slope. Below the grid the slope of the first half octave goes on; above,
    that of the last half octave fades with frequency squared, as it does where a shunt through a
    resistor levels out: there the delay that is left over is right to about 3 ns. A corner above
    the grid hardly shows in the magnitude, and its phase passes for a delay.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid, rising.
    magnitude : ndarray of float64, shape (k,)
        Above zero.

    Returns
    -------
    ndarray of float64, shape (k,)
        Radians (Bode 1945, chapter 14).
    """
    kernel, low, high = _bode_kernel(f_hz.tobytes())
    neper = np.log(magnitude)
    octaves = np.log2(f_hz)
    bottom, top = octaves < octaves[0] + _END_OCTAVES, octaves > octaves[-1] - _END_OCTAVES
    fall = np.polyfit(np.log(f_hz[bottom]), neper[bottom], 1)[0]
    rise = np.polyfit(np.log(f_hz[top]), neper[top], 1)[0]
    return np.asarray(kernel @ np.diff(neper) + low * fall + high * rise, dtype=np.float64)


@lru_cache(maxsize=4)
def _bode_kernel(grid: bytes) -> tuple[F64, F64, F64]:
    """Phase at each frequency per neper of step between neighbours, and per slope at either end.

    The weight is the mean of ln coth(|u|/2) over each interval (Bode 1945).
    """
    u = np.log(np.frombuffer(grid))
    low = u[None, :-1] - u[:, None]
    high = u[None, 1:] - u[:, None]
    mean = (_coth_integral(high) - _coth_integral(low)) / (high - low)
    below = np.pi**2 / 4 - _coth_integral(u - u[0])
    # ln coth(x/2) is 2 Σ exp(-n x)/n over odd n; weighed with exp(-2x) each term is elementary.
    odd = 2 * np.arange(200) + 1
    above = np.exp(-np.multiply.outer(u[-1] - u, odd)) @ (2.0 / (odd * (odd + 2)))
    return mean / np.pi, below / np.pi, above / np.pi


def _coth_integral(u: F64) -> F64:
    """Integral of ln coth(|x|/2) from 0 to u: odd, and π²/4 at infinity."""
    size = np.abs(u)
    odd = 2 * np.arange(40) + 1
    # The series converges slowly near zero, where ln coth(x/2) ≈ ln(2/x) + x²/12.
    small = np.minimum(size, 0.2)
    safe = np.maximum(small, 1e-300)
    near = small * (1 + np.log(2 / safe)) + small**3 / 36 - 7 * small**5 / 7200
    tail = np.exp(-np.multiply.outer(np.maximum(size, 0.2), odd)) @ (2.0 / odd**2)
    return np.asarray(
        np.sign(u) * np.where(size < 0.2, near, np.pi**2 / 4 - tail), dtype=np.float64
    )
