"""From what is played to what arrives: one run's circuit, solved and applied to the spectrum."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.nodal import thermal_density, transfer
from loopback.plan.runs import RunLabel
from loopback.simulate.bins import PER_OCTAVE, ToBins, log_grid
from loopback.simulate.imperfections import (
    band_edge,
    crosstalk,
    monitoring_loop,
    time_shift,
    treble_tilt,
)
from loopback.simulate.imperfections_drift import Drift
from loopback.simulate.imperfections_noise import converter_density
from loopback.simulate.imperfections_shape import slightly_bent, soft_clip
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Chance, HookUp, Leads, hook_up, load_ohm
from loopback.simulate.pedal import PedalState

BENT_AT_DBFS = -12.0
"""Level at which the harmonics of the interface are stated."""

MONITOR_DELAY_S = 1.2e-3
_PEDAL_EDGE_ORDER = 24
_NOISE_STEP = PER_OCTAVE // 4


@dataclass(frozen=True, slots=True)
class Played:
    """What is played, ready to be passed through any number of runs.

    Parameters
    ----------
    n : int
        Length of the transform.
    rate_hz : int
        Sample rate.
    to_bins : ToBins
        From the circuit grid to its bins.
    out : ndarray of complex128, shape (k,)
        Bins of the EMF, as fraction of input full scale.
    into : ndarray of complex128, shape (k,)
        Response of the way in.
    """

    n: int
    rate_hz: int
    to_bins: ToBins
    out: C128
    into: C128


@dataclass(frozen=True, slots=True)
class Line:
    """What one run does to what is played.

    Parameters
    ----------
    h : ndarray of complex128, shape (m,)
        On the circuit grid: voltage at the input over EMF, drift and crosstalk included.
    density : ndarray of float64, shape (m,)
        Noise at the input without the converters' own, full scale squared per hertz.
    clip_level : float or None
        Where the pedal limits softly, fraction of full scale; None: linear.
    delay_s : float
        Delay of a digital pedal.
    edge_hz : float or None
        Its band edge.
    monitoring_db : float or None
        Gain of direct monitoring; None: off.
    """

    h: C128
    density: F64
    clip_level: float | None = None
    delay_s: float = 0.0
    edge_hz: float | None = None
    monitoring_db: float | None = None


def prepare(interface: InterfaceModel, samples: F64, to_bins: ToBins, rate_hz: int) -> Played:
    """Pass a take through the output and prepare the input.

    Parameters
    ----------
    interface : InterfaceModel
        Its ways out and in.
    samples : ndarray of float64, shape (m,)
        What is played.
    to_bins : ToBins
        For the length of the transform, not below m.
    rate_hz : int
        Sample rate.

    Returns
    -------
    Played
        Kept for all runs of the same signal.
    """
    n = 2 * (len(to_bins.f_hz) - 1)
    out = slightly_bent(samples, n, interface.h2_db, interface.h3_db, BENT_AT_DBFS)
    out *= interface.output_response(to_bins.f_hz, rate_hz)
    return Played(n, rate_hz, to_bins, out, interface.input_response(to_bins.f_hz, rate_hz))


def line_of(
    label: RunLabel,
    state: PedalState,
    interface: InterfaceModel,
    leads: Leads,
    chance: Chance,
    drift: Drift,
    rate_hz: int,
) -> Line:
    """Solve the circuit of one run.

    Parameters
    ----------
    label : RunLabel
        What is really connected.
    state : PedalState
        State of the pedal; not used without it.
    interface, leads : InterfaceModel, Leads
        The setup.
    chance : Chance
        How the leads lie.
    drift : Drift
        How gain, treble and delay stand.
    rate_hz : int
        Sample rate.

    Returns
    -------
    Line
        On `loopback.simulate.bins.log_grid`.
    """
    f_hz = log_grid(rate_hz)
    gain = 10.0 ** (drift.gain_db / 20)
    if label.load == "line":
        gain *= 10.0 ** (interface.line_gain_db / 20)
    leak = gain * crosstalk(f_hz, interface.crosstalk_db)
    per_volt = gain / interface.full_scale_v
    if label.path == "unplugged":
        density = _open_density(label, interface, leads, f_hz)
        return Line(leak, density * per_volt**2)
    circuit = hook_up(label, state.elements, interface, leads, chance)
    factor = gain * treble_tilt(f_hz, drift.treble_db) * time_shift(f_hz, drift.delay_s)
    h = factor * transfer(circuit.elements, f_hz, circuit.source, circuit.out) + leak
    line = Line(h, _thermal(circuit, interface.kelvin, f_hz) * per_volt**2)
    if label.path != "pedal":
        return line
    return replace(
        line,
        density=line.density + (state.noise_v_rthz * per_volt) ** 2,
        clip_level=None if state.softclip_v is None else state.softclip_v * per_volt,
        delay_s=state.delay_s,
        edge_hz=state.band_edge_hz,
    )


def signal_bins(played: Played, line: Line) -> C128:
    """Bins of the recording that a run gives, without its noise.

    Parameters
    ----------
    played : Played
        What is played.
    line : Line
        What the run does to it.

    Returns
    -------
    ndarray of complex128, shape (k,)
        ``irfft`` of it is the recording, whole latency not yet added.
    """
    bins = played.out * _response(played, line)
    if line.clip_level is not None:
        bins = soft_clip(bins, played.n, line.clip_level)
    bins *= played.into
    return bins


def noise_density(played: Played, line: Line, interface: InterfaceModel) -> F64:
    """Density of all noise that a run records.

    Parameters
    ----------
    played : Played
        Gives the bins.
    line : Line
        What the run does.
    interface : InterfaceModel
        Gives the converters' own noise.

    Returns
    -------
    ndarray of float64, shape (k,)
        Full scale squared per hertz at the bins.
    """
    f_hz = played.to_bins.f_hz
    density = converter_density(f_hz, interface.noise_dbfs_a, interface.flicker_corner_hz)
    if np.any(line.density):
        density += played.to_bins.nearest(line.density) * _power(played.into)
    if line.monitoring_db is not None:
        density *= _power(_loop(played, line, played.to_bins(line.h)))
    return density


def _response(played: Played, line: Line) -> C128:
    f_hz = played.to_bins.f_hz
    h = played.to_bins(line.h)
    if line.delay_s:
        h *= time_shift(f_hz, line.delay_s)
    if line.edge_hz is not None:
        h *= band_edge(f_hz, line.edge_hz, _PEDAL_EDGE_ORDER)
    if line.monitoring_db is not None:
        h *= _loop(played, line, h)
    return h


def _loop(played: Played, line: Line, h: C128) -> C128:
    return monitoring_loop(played.to_bins.f_hz, h, line.monitoring_db or 0.0, MONITOR_DELAY_S)


def _thermal(circuit: HookUp, kelvin: float, f_hz: F64) -> F64:
    """Thermal noise at the input, V²/Hz, solved four times per octave."""
    if kelvin == 0:
        return np.zeros(len(f_hz))
    coarse = np.append(f_hz[::_NOISE_STEP], f_hz[-1])
    density = thermal_density(circuit.at_rest(), coarse, circuit.out, kelvin)
    return np.asarray(np.exp(np.interp(np.log(f_hz), np.log(coarse), np.log(density))))


def _open_density(label: RunLabel, interface: InterfaceModel, leads: Leads, f_hz: F64) -> F64:
    """Thermal noise of an input with nothing plugged in."""
    from loopback.circuit.netlist import Element

    parts = (
        Element("R", "R", ("OUT", "0"), load_ohm(label, interface, leads)),
        Element("C", "C", ("OUT", "0"), interface.input_f),
    )
    return _thermal(HookUp(parts), interface.kelvin, f_hz)


def _power(h: C128) -> F64:
    return np.asarray(np.square(h.real) + np.square(h.imag))
