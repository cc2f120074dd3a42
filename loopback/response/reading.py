"""What one take says: small arrays on a logarithmic grid, once the samples are let go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.quantity import coverage_factor


@dataclass(frozen=True, slots=True)
class ToneReading:
    """One check tone as recorded.

    Parameters
    ----------
    block : str
        ``"tones_before"``, ``"tones_between"`` or ``"tones_after"``.
    f_hz : float
        Nominal frequency.
    played_dbfs, level_dbfs : float
        Peak level played and recorded.
    phase_rad : float
        Recorded minus played, referred to the located start of the take.
    u_level_db : float
        Standard uncertainty of the level from the residual.
    """

    block: str
    f_hz: float
    played_dbfs: float
    level_dbfs: float
    phase_rad: float
    u_level_db: float


@dataclass(frozen=True, slots=True)
class TakeReading:
    """One take, read.

    Parameters
    ----------
    run_id, recording : str
        Where it comes from: run id, and file inside the folder.
    number : int
        Which take of the run, from 1.
    start : int
        Sample of the recording that is the first sample of the take.
    stretch : float
        Recorded duration over played duration minus 1 (two clocks): 30e-6 is 30 ppm.
    f_hz : ndarray of float64, shape (k,)
        Centres of the bands of the logarithmic grid; the same for every take of a signal.
    up, down : ndarray of complex128, shape (k,)
        Response from the upward and the downward sweep, phase referred to `start`.
    var : ndarray of float64, shape (k,)
        Variance of each of `up` and `down` from the silence of this take.
    delay_s : float
        Delay beyond `start`, from the phase of the response.
    harmonics : ndarray of float64, shape (n, k)
        Magnitude of orders 2 to n+1 over the linear response at the exciting frequency; nan where
        not measured.
    check : ndarray of complex128, shape (k,) or None
        Response of the check channel from both sweeps; None without a check cable.
    tones, check_tones : tuple of ToneReading
        Check tones on both channels.
    noise_f_hz, noise_psd : ndarray of float64
        One-sided density of the silence, full scale squared per hertz (a full-scale sine is 1/2).
    peak : float
        Largest absolute sample of the take, fraction of full scale.
    harmonics_var : ndarray of float64, shape (n, k) or None
        Mean square that the noise alone leaves in `harmonics`; nan or None: not known.
    """

    run_id: str
    recording: str
    number: int
    start: int
    stretch: float
    f_hz: F64
    up: C128
    down: C128
    var: F64
    delay_s: float
    harmonics: F64
    check: C128 | None
    tones: tuple[ToneReading, ...]
    check_tones: tuple[ToneReading, ...]
    noise_f_hz: F64
    noise_psd: F64
    peak: float
    harmonics_var: F64 | None = None


@dataclass(frozen=True, slots=True)
class RunResponse:
    """All usable takes of one run, joined.

    Parameters
    ----------
    run_id : str
        Id of the run.
    f_hz : ndarray of float64, shape (k,)
        Grid.
    h : ndarray of complex128, shape (k,)
        Mean response, phase referred to the located start, residual delay still in it.
    var : ndarray of float64, shape (k,)
        Variance of `h`: silence, repeats and residual, whichever is largest, at each frequency.
    delay_s : float
        Delay of `h` from its phase; with a check cable, that cable's delay already taken off.
    repeat_db : float
        Largest level difference between takes, 200 Hz to 5 kHz.
    takes : int
        How many takes are in it.
    stretch : float
        Largest stretch of its takes, sign taken off: 0 where one clock serves both ways.
    """

    run_id: str
    f_hz: F64
    h: C128
    var: F64
    delay_s: float
    repeat_db: float
    takes: int
    stretch: float = 0.0


@dataclass(frozen=True, slots=True)
class Ratio:
    """A pedal run over its reference.

    Parameters
    ----------
    run_id : str
        The pedal run.
    reference_ids : tuple of str
        The reference runs used (before and after, same feed, same load).
    f_hz : ndarray of float64, shape (k,)
        Grid.
    t : ndarray of complex128, shape (k,)
        Ratio. Where the delay is free, the fitted difference is taken off; where it is held, the
        pedal's own delay stays in the phase.
    var : ndarray of float64, shape (k,)
        Variance of `t` from noise and repeats alone.
    u_gain_db : float
        Standard uncertainty of one common gain factor (drift between runs), dB.
    delay_s : float
        Delay of the pedal run relative to the reference; whole samples of stream opening included.
    delay_held : bool
        True when one stream or a check cable makes `delay_s` the pedal's own.
    floor_db : ndarray of float64, shape (k,)
        The setup's own floor: a ratio nearer to 1 than ``10^(floor/20)`` cannot be told from it,
        with 95 % probability, for noise, drift of gain and what the references differ by.
    u_shape_db : float
        Standard uncertainty of the level at 20 kHz against 1 kHz from drift of the treble shape
        between runs, dB; it grows with the square of frequency.
    """

    run_id: str
    reference_ids: tuple[str, ...]
    f_hz: F64
    t: C128
    var: F64
    u_gain_db: float
    delay_s: float
    delay_held: bool
    floor_db: F64
    u_shape_db: float = 0.0

    @property
    def noise_db(self) -> F64:
        """Level that noise alone stays below with 95 % probability, dB over the reference.

        A dead path shows down to here; `floor_db` is about a path that passes.
        """
        return np.asarray(20 * np.log10(coverage_factor() * np.sqrt(self.var / 2)))
