"""What the path in bypass can be, as circuits with few unknowns.

A hypothesis is data: its unknowns, each with unit, proper prior and start, and one pure function
that turns their values into A, B, C, D over frequency. What it is fitted to is not its business.

Some kinds of pedal are the same circuit and cannot be told apart from outside, so they are one
hypothesis: an input buffer and a stage at the output only; a half-switched input without more than
its coupling capacitor and resistor, and a tone network across the line; a sensing node behind a
resistor, and a resistor-capacitor branch beside a plain resistor.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit import hypothesis_circuits as circuits
from loopback.circuit.chain import Chain

HypothesisName = Literal[
    "wire", "shunt", "coupled", "shelf", "bias", "inline", "blocked", "switched", "transformer",
    "buffer", "loaded_buffer", "open", "short",
]  # fmt: skip
Matrix: TypeAlias = Callable[[C128, tuple[F64, ...]], Chain]


class Unknown(NamedTuple):
    """One unknown of a circuit.

    Parameters
    ----------
    name : str
        With its unit: ``c_farad``, ``g_siemens``, ``r_series_ohm``.
    unit : str
        As in `loopback.quantity.Estimate`.
    log : bool
        True: above zero, searched by its logarithm; False: may take either sign.
    prior : float
        Centre of the normal prior; the median where `log`.
    prior_u : float
        Standard deviation of the prior: in `unit`, or of the natural logarithm where `log`.
    start : float
        Where a search begins when the data say nothing.
    step : float
        A small natural step in `unit`; relative where `log`.
    """

    name: str
    unit: str
    log: bool
    prior: float
    prior_u: float
    start: float
    step: float


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One kind of path.

    Parameters
    ----------
    name : str
        Short name.
    about : str
        What it is, in a few words.
    unknowns : tuple of Unknown
        In the order that `matrix` takes them.
    matrix : callable
        ``matrix(s, values) -> Chain`` with ``s = 2πjf`` of shape (k,) and one array per unknown
        that broadcasts against it.
    active : bool
        True when it needs power and works in one direction only.
    within : tuple of str
        Hypotheses of which it is a special case, with more unknowns.
    """

    name: HypothesisName
    about: str
    unknowns: tuple[Unknown, ...]
    matrix: Matrix
    active: bool = False
    within: tuple[HypothesisName, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the unknowns in order."""
        return tuple(u.name for u in self.unknowns)

    def chain(self, f_hz: F64, **values: float) -> Chain:
        """Return A, B, C, D over frequency for values given by name; what is left out starts."""
        s = 2j * math.pi * f_hz
        given = tuple(np.asarray(values.get(u.name, u.start)) for u in self.unknowns)
        return self.matrix(np.asarray(s, np.complex128), given)


def _free(name: str, unit: str, prior_u: float, step: float, start: float = 0.0) -> Unknown:
    return Unknown(name, unit, False, 0.0, prior_u, start, step)


def _above(name: str, unit: str, median: float, factor: float) -> Unknown:
    """Positive unknown: one standard deviation of its prior is a factor of `factor`."""
    return Unknown(name, unit, True, median, math.log(factor), median, 1e-2)


# Priors are proper and wide; what they rest on is common practice (typical values of parts).
_R = _free("r_series_ohm", "ohm", 200.0, 1.0)
_C = _free("c_farad", "farad", 300e-12, 1e-12, 10e-12)
_G = _free("g_siemens", "siemens", 1e-4, 1e-8)
_BRANCH_R = _above("r_branch_ohm", "ohm", 150e3, 6.0)
_BRANCH_C = _above("c_branch_farad", "farad", 20e-9, 12.0)
_STAGE = (
    _above("c_input_farad", "farad", 25e-12, 3.0),
    _free("g_pulldown_siemens", "siemens", 3e-6, 1e-8),
    _above("r_input_ohm", "ohm", 700e3, 3.0),
    _above("corner_input_hz", "Hz", 3.0, 5.0),
    Unknown("gain_neper", "", False, -0.04, 0.10, -0.02, 1e-3),
    _above("r_output_ohm", "ohm", 300.0, 4.0),
    _above("c_coupling_farad", "farad", 3e-6, 5.0),
    _above("r_bleed_ohm", "ohm", 100e3, 2.5),
    _above("corner_inner_hz", "Hz", 0.1, 5.0),
    _free("delay_s", "s", 1e-6, 1e-9),
)

WIRE = Hypothesis(
    "wire", "wiring alone", (_R, _C), circuits.wire, within=("shunt", "coupled", "inline")
)
SHUNT = Hypothesis(
    "shunt", "a resistor and a capacitance across the line", (_R, _C, _G), circuits.shunt,
    within=("coupled", "shelf", "blocked"),
)  # fmt: skip
COUPLED = Hypothesis(
    "coupled", "a resistor behind a coupling capacitor across the line",
    (_R, _C, _BRANCH_R, _BRANCH_C), circuits.coupled, within=("bias", "shelf"),
)  # fmt: skip
SHELF = Hypothesis(
    "shelf", "a resistor, and a resistor-capacitor branch beside it, across the line",
    (_R, _C, _G, _BRANCH_R, _BRANCH_C), circuits.shelf,
)  # fmt: skip
BIAS = Hypothesis(
    "bias", "an effect's input with coupling capacitor, series resistor and bias across the line",
    (
        _R, _C, _above("c_branch_farad", "farad", 20e-9, 12.0),
        _above("r_stopper_ohm", "ohm", 10e3, 12.0), _above("r_bias_ohm", "ohm", 150e3, 6.0),
        _above("c_bias_farad", "farad", 100e-12, 3.0),
    ),
    circuits.bias,
)  # fmt: skip
INLINE = Hypothesis(
    "inline", "a resistor in line with loads at both ends",
    (
        _free("c_farad", "farad", 300e-12, 1e-12, 10e-12), _above("r_series_ohm", "ohm", 3e3, 20.0),
        _free("c_output_farad", "farad", 3e-9, 1e-12, 100e-12),
        _free("g_output_siemens", "siemens", 1e-4, 1e-8),
    ),
    circuits.inline, within=("blocked",),
)  # fmt: skip
BLOCKED = Hypothesis(
    "blocked", "a capacitor and a resistor in line with loads at both ends",
    (
        _C, _G, _R, _above("c_series_farad", "farad", 1e-6, 10.0),
        _free("c_output_farad", "farad", 300e-12, 1e-12, 10e-12),
        _free("g_output_siemens", "siemens", 1e-5, 1e-8, 1e-6),
    ),
    circuits.blocked, within=("switched",),
)  # fmt: skip
SWITCHED = Hypothesis(
    "switched", "an electronic switch in line between two capacitors, with bias between them",
    (
        _C, _G, _above("c_first_farad", "farad", 1e-6, 6.0),
        _above("g_bias_siemens", "siemens", 2e-6, 3.0), _R,
        _above("c_series_farad", "farad", 1e-6, 6.0),
        _free("c_output_farad", "farad", 300e-12, 1e-12, 10e-12),
        _free("g_output_siemens", "siemens", 1e-5, 1e-8, 1e-6),
    ),
    circuits.switched,
)  # fmt: skip
TRANSFORMER = Hypothesis(
    "transformer", "a transformer in line",
    (
        _above("c_farad", "farad", 200e-12, 2.5), _above("r_primary_ohm", "ohm", 400.0, 3.0),
        _above("l_main_henry", "henry", 40.0, 4.0), _above("l_leak_henry", "henry", 15e-3, 4.0),
        _above("ratio", "", 1.0, 1.5), _above("r_secondary_ohm", "ohm", 400.0, 3.0),
        _above("c_output_farad", "farad", 200e-12, 2.5),
        _above("c_across_farad", "farad", 60e-12, 3.0),
    ),
    circuits.transformer,
)  # fmt: skip
BUFFER = Hypothesis(
    "buffer",
    "a stage that drives the output itself",
    _STAGE,
    circuits.stage,
    active=True,
    within=("loaded_buffer",),
)
LOADED_BUFFER = Hypothesis(
    "loaded_buffer",
    "a stage that drives the output itself, and a load behind a capacitor beside its input",
    (
        *_STAGE,
        _above("r_branch_ohm", "ohm", 300e3, 4.0),
        _above("corner_branch_hz", "Hz", 10.0, 5.0),
    ),
    circuits.loaded_stage,
    active=True,
)
OPEN = Hypothesis(
    "open", "nothing but a stray capacitance from in to out",
    (
        _C, _above("c_stray_farad", "farad", 2e-12, 5.0),
        _free("g_output_siemens", "siemens", 1e-5, 1e-8),
    ),
    circuits.open_path,
)  # fmt: skip
SHORT = Hypothesis(
    "short", "a short to ground", (_above("r_short_ohm", "ohm", 1.0, 20.0),), circuits.short
)

HYPOTHESES: dict[HypothesisName, Hypothesis] = {
    h.name: h
    for h in (
        WIRE, SHUNT, COUPLED, SHELF, BIAS, INLINE, BLOCKED, SWITCHED, TRANSFORMER,
        BUFFER, LOADED_BUFFER, OPEN, SHORT,
    )
}  # fmt: skip
PASSING: tuple[HypothesisName, ...] = (
    "wire", "shunt", "coupled", "shelf", "bias", "inline", "blocked", "switched", "transformer",
    "buffer",
)  # fmt: skip
"""Those a path that lets a signal through is compared with, simplest first."""
