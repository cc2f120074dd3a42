"""The simulated interface: every imperfection a field with its unit, and off when it is none.

The defaults are those of an ordinary two-channel interface in good order. Where nothing else is
said their source is common practice: figures that makers state or that people who measure such
boxes expect, not the specification of any one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.simulate.imperfections import (
    band_edge,
    coupling_highpass,
    passband_ripple,
    time_shift,
)

VOLTS_AT_0_DBU = math.sqrt(0.6)
"""RMS value of 0 dBu (1 mW in 600 Ω)."""


@dataclass(frozen=True, slots=True)
class InterfaceModel:
    """Everything an audio interface adds to a measurement.

    Parameters
    ----------
    full_scale_dbu : float
        Input level of a full-scale sine (+6 to +15 at the lowest gain of an instrument input).
    output_full_scale_dbu : float
        Output level of a full-scale sine.
    gain_error_db : float
        What makes the loop differ from the two levels above (±1 dB).
    line_gain_db : float
        Gain of the line input relative to the instrument input.
    output_ohm : float
        Output impedance (50 to 300 Ω).
    input_ohm, input_f : float
        Instrument input: 1 MΩ, and farad (50 to 400 pF, hardly ever specified).
    line_ohm : float
        Line input (10 to 20 kΩ).
    latency_samples : int
        Nominal delay from playing to recording.
    latency_fraction : float
        Part of a sample that comes on top: filters and cables.
    latency_jump_samples : int
        Each opening of the stream adds a whole number up to this many, either way.
    noise_dbfs_a : float or None
        A-weighted noise of the converters; None: none (−95 to −120).
    flicker_corner_hz : float
        Where their 1/f noise equals the white part.
    kelvin : float
        Temperature of every resistor connected; 0: no thermal noise.
    mains_hz : float
        Mains frequency.
    hum_dbfs : tuple of float
        Levels of the mains frequency and its multiples at the input; empty: no hum.
    output_corner_hz, input_corner_hz : float
        AC coupling, −3 dB; 0: none (0.5 to 8 Hz).
    band_edge_fraction : float or None
        −3 dB of each converter's filter as a fraction of the sample rate; None: none.
    ripple_db, ripple_period_hz : float
        Ripple of those filters, peak, and its period.
    crosstalk_db : float or None
        Output to input at 1 kHz, rising with frequency; None: none (−90 to −110).
    h2_db, h3_db : float or None
        Harmonics of the output stage at −12 dBFS; None: none (−95 to −110).
    gain_drift_db : float
        Standard deviation of the gain from run to run, independent.
    gain_walk_db : float
        Step of a random walk of the gain from run to run (0.005 to 0.02 dB in ten minutes).
    gain_take_db : float
        Standard deviation of the gain from take to take within a run.
    gain_shared : float
        Share of the variance of gain drift that both channels have in common, 0 to 1.
    treble_drift_db : float
        Standard deviation of the level at 20 kHz from run to run (judgement).
    delay_drift_s : float
        Standard deviation of the delay within the path from run to run.
    check_gain_db : float
        Level of the check channel relative to what is played.
    bits : int or None
        Word length of a recording; None: unrounded.
    """

    full_scale_dbu: float = 10.0
    output_full_scale_dbu: float = 10.0
    gain_error_db: float = -0.4
    line_gain_db: float = -9.6
    output_ohm: float = 150.0
    input_ohm: float = 1e6
    input_f: float = 100e-12
    line_ohm: float = 10e3
    latency_samples: int = 480
    latency_fraction: float = 0.31
    latency_jump_samples: int = 16
    noise_dbfs_a: float | None = -100.0
    flicker_corner_hz: float = 20.0
    kelvin: float = 293.15
    mains_hz: float = 50.01
    hum_dbfs: tuple[float, ...] = (-118.0, -130.0, -122.0, -135.0, -126.0, -138.0, -130.0)
    output_corner_hz: float = 1.0
    input_corner_hz: float = 2.0
    band_edge_fraction: float | None = 0.49
    ripple_db: float = 0.005
    ripple_period_hz: float = 1800.0
    crosstalk_db: float | None = -100.0
    h2_db: float | None = -105.0
    h3_db: float | None = -110.0
    gain_drift_db: float = 0.0015
    gain_walk_db: float = 0.001
    gain_take_db: float = 0.0002
    gain_shared: float = 0.5
    treble_drift_db: float = 0.001
    delay_drift_s: float = 0.3e-9
    check_gain_db: float = -0.3
    bits: int | None = 24

    def __post_init__(self) -> None:
        if not 0 <= self.gain_shared <= 1:
            raise ArgumentError(
                f"A shared part of {self.gain_shared!r} of the gain drift was given; it lies"
                " between 0 and 1."
            )
        if not (self.output_ohm > 0 and self.input_ohm > 0 and self.line_ohm > 0):
            raise ArgumentError("Impedances of a simulated interface are above zero.")

    @classmethod
    def ideal(cls, **changes: Any) -> InterfaceModel:
        """Return an interface with impedances and a whole latency, and nothing else.

        Parameters
        ----------
        **changes : float, int, tuple or None
            Fields that differ from it.

        Returns
        -------
        InterfaceModel
            Its recordings are exact but for double precision.
        """
        nothing = cls(
            gain_error_db=0.0,
            line_gain_db=0.0,
            latency_fraction=0.0,
            latency_jump_samples=0,
            noise_dbfs_a=None,
            kelvin=0.0,
            hum_dbfs=(),
            output_corner_hz=0.0,
            input_corner_hz=0.0,
            band_edge_fraction=None,
            ripple_db=0.0,
            crosstalk_db=None,
            h2_db=None,
            h3_db=None,
            gain_drift_db=0.0,
            gain_walk_db=0.0,
            gain_take_db=0.0,
            treble_drift_db=0.0,
            delay_drift_s=0.0,
            check_gain_db=0.0,
            bits=None,
        )
        return replace(nothing, **changes)

    @property
    def full_scale_v(self) -> float:
        """Peak of a full-scale sine at the instrument input, volts."""
        return math.sqrt(2) * VOLTS_AT_0_DBU * float(10.0 ** (self.full_scale_dbu / 20))

    @property
    def loop_gain_db(self) -> float:
        """Recorded over played with output and input joined without loss, dB."""
        return self.output_full_scale_dbu - self.full_scale_dbu + self.gain_error_db

    def output_response(self, f_hz: F64, rate_hz: int) -> C128:
        """Return what the way out does: coupling, filter, ripple, loop gain.

        Parameters
        ----------
        f_hz : ndarray of float64, shape (k,)
            Frequencies.
        rate_hz : int
            Sample rate.

        Returns
        -------
        ndarray of complex128, shape (k,)
            Factor on the EMF, fraction of input full scale over fraction of output full scale.
        """
        magnitude = self._edge(f_hz, rate_hz) * 10.0 ** (self.loop_gain_db / 20)
        if self.ripple_db:
            magnitude *= passband_ripple(f_hz, self.ripple_db, self.ripple_period_hz)
        return np.asarray(coupling_highpass(f_hz, self.output_corner_hz) * magnitude)

    def input_response(self, f_hz: F64, rate_hz: int) -> C128:
        """Return what the way in does: coupling, filter, fraction of a sample of delay.

        Parameters
        ----------
        f_hz : ndarray of float64, shape (k,)
            Frequencies.
        rate_hz : int
            Sample rate.

        Returns
        -------
        ndarray of complex128, shape (k,)
            Factor from the voltage at the input to what is recorded.
        """
        factor = coupling_highpass(f_hz, self.input_corner_hz) * self._edge(f_hz, rate_hz)
        if self.latency_fraction:
            factor *= time_shift(f_hz, self.latency_fraction / rate_hz)
        return np.asarray(factor)

    def _edge(self, f_hz: F64, rate_hz: int) -> F64:
        fraction = self.band_edge_fraction
        return band_edge(f_hz, None if fraction is None else fraction * rate_hz, 32)
