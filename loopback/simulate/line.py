"""From what is played to what arrives: one run's circuit, solved and applied to the spectrum."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import GROUND, Element
from loopback.circuit.nodal import impedance, thermal_density, transfer
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
from loopback.simulate.imperfections_shape import bent, slightly_bent, soft_clip
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import PEDAL_OUT, Chance, HookUp, Leads, hook_up, load_ohm
from loopback.simulate.moving import Mover
from loopback.simulate.pedal import PedalState
from loopback.simulate.sounding import NOTHING, Sounding, sounding_of

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
    leak : ndarray of complex128, shape (k,)
        Bins of what leaks across to the input.
    """

    n: int
    rate_hz: int
    to_bins: ToBins
    out: C128
    into: C128
    leak: C128


@dataclass(frozen=True, slots=True)
class Line:
    """What one run does to what is played.

    Parameters
    ----------
    gain : float
        Of the input, against its nominal gain: drift, and the line input's own.
    h : ndarray of complex128, shape (m,), or None
        On the circuit grid: voltage at the input over EMF, times `gain`, with the drift of treble
        and delay; None: nothing is plugged in.
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
    sounding : Sounding
        What the pedal adds, bends and moves.
    """

    gain: float
    h: C128 | None
    density: F64
    clip_level: float | None = None
    delay_s: float = 0.0
    edge_hz: float | None = None
    monitoring_db: float | None = None
    sounding: Sounding = NOTHING


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
    leak = out * crosstalk(to_bins.f_hz, interface.crosstalk_db)
    into = interface.input_response(to_bins.f_hz, rate_hz)
    return Played(n, rate_hz, to_bins, out, into, leak)


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
    per_volt = gain / interface.full_scale_v
    if label.path == "unplugged":
        density = _open_density(label, interface, leads, f_hz)
        return Line(gain, None, density * per_volt**2)
    circuit = hook_up(label, state.elements, interface, leads, chance)
    factor = gain * treble_tilt(f_hz, drift.treble_db) * time_shift(f_hz, drift.delay_s)
    h = factor * transfer(circuit.elements, f_hz, circuit.source, circuit.out)
    line = Line(gain, h, _thermal(circuit, interface.kelvin, f_hz) * per_volt**2)
    if label.path != "pedal":
        return line
    return replace(
        line,
        density=line.density + (state.noise_v_rthz * per_volt) ** 2,
        clip_level=None if state.softclip_v is None else state.softclip_v * per_volt,
        delay_s=state.delay_s,
        edge_hz=state.band_edge_hz,
        sounding=sounding_of(
            state.sound, per_volt, 0.0 if state.sound.clamp is None else _source_ohm(circuit)
        ),
    )


def signal_bins(played: Played, line: Line, mover: Mover | None = None) -> C128:
    """Bins of the recording that a run gives, without its noise.

    Parameters
    ----------
    played : Played
        What is played.
    line : Line
        What the run does to it.
    mover : Mover or None
        Of its movement; None: it has none.

    Returns
    -------
    ndarray of complex128, shape (k,)
        ``irfft`` of it is the recording, whole latency not yet added.
    """
    bins = line.gain * played.leak
    if line.h is not None:
        through = played.out * _response(played, line, line.h)
        if line.clip_level is not None:
            through = soft_clip(through, played.n, line.clip_level)
        if line.sounding.square or line.sounding.cube:
            through = bent(through, played.n, line.sounding.square, line.sounding.cube)
        if mover is not None:
            through = mover(through, played.n)
        bins += through
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
    if line.monitoring_db is not None and line.h is not None:
        loop = monitoring_loop(f_hz, played.to_bins(line.h), line.monitoring_db, MONITOR_DELAY_S)
        density *= _power(loop)
    return density


def _response(played: Played, line: Line, on_grid: C128) -> C128:
    f_hz = played.to_bins.f_hz
    h = played.to_bins(on_grid)
    if line.delay_s:
        h *= time_shift(f_hz, line.delay_s)
    if line.edge_hz is not None:
        h *= band_edge(f_hz, line.edge_hz, _PEDAL_EDGE_ORDER)
    if line.monitoring_db is not None:
        h *= monitoring_loop(f_hz, h, line.monitoring_db, MONITOR_DELAY_S)
    return h


def _source_ohm(circuit: HookUp) -> float:
    """Impedance of the line at 1 kHz, seen from where the input is."""
    seen = impedance(circuit.at_rest(), np.array([1000.0]), circuit.out)
    return float(np.abs(seen)[0])


def _thermal(circuit: HookUp, kelvin: float, f_hz: F64) -> F64:
    """Thermal noise at the input, V²/Hz, solved four times per octave."""
    if kelvin == 0:
        return np.zeros(len(f_hz))
    coarse = np.append(f_hz[::_NOISE_STEP], f_hz[-1])
    density = thermal_density(circuit.at_rest(), coarse, circuit.out, kelvin)
    return np.asarray(np.exp(np.interp(np.log(f_hz), np.log(coarse), np.log(density))))


def _open_density(label: RunLabel, interface: InterfaceModel, leads: Leads, f_hz: F64) -> F64:
    """Thermal noise of an input with nothing plugged in."""
    parts = (
        Element("R", "Rinput", (PEDAL_OUT, GROUND), load_ohm(label, interface, leads)),
        Element("C", "Cinput", (PEDAL_OUT, GROUND), interface.input_f),
    )
    return _thermal(HookUp(parts), interface.kelvin, f_hz)


def _power(h: C128) -> F64:
    return np.asarray(np.square(h.real) + np.square(h.imag))
