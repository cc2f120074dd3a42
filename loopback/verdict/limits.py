"""Limits and grades as data, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.verdict.result import GradeName


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Base unit.
    source : str
        Where it comes from.
    """

    value: float
    unit: str
    source: str


WIRING_C = Limit(
    60e-12,
    "farad",
    "common practice: a hard-wired pedal with its jacks shows 8 to 20 pF wired by hand and 15 to "
    "40 pF on a circuit board; more than 60 pF is shielded wire or a part",
)
FITTED_G = Limit(
    1 / 20e6,
    "siemens",
    "common practice: resistors fitted across the line on purpose go up to 10 MΩ, leakage of "
    "clean insulation starts far above",
)
LEAST_INPUT_OHM = Limit(
    100e3,
    "ohm",
    "common practice: an instrument input has 1 MΩ, some have 200 kΩ; line inputs have 10 to 20 kΩ",
)
SHORT_LEAD_F = Limit(
    80e-12, "farad", "common practice: half a metre of lead has 30 pF and more, an input 50 pF"
)
HIGH_INPUT_OHM = Limit(
    5e6, "ohm", "common practice: an instrument input has 1 MΩ, a few have up to 10 MΩ"
)
INSULATION_OHM = Limit(5e6, "ohm", "common practice: tip to sleeve open")
IN_TO_OUT_OHM = Limit(10.0, "ohm", "common practice: in to out close to zero")
JOINT_OHM = Limit(
    500.0,
    "ohm",
    "common practice: parts fitted in line start at 1 kΩ, half of which is allowed for; computed: "
    "level alone, with no delay held, resolves some 300 Ω into a lead of 400 pF",
)
"""Above this a path is no longer called straight through, wherever exactly it lies."""
CONVERTER_DELAY_S = Limit(
    50e-6, "s", "common practice: conversion takes 0.5 to 3 ms, analogue stages under 1 µs"
)
BUFFER_BELOW_ZERO = Limit(
    5.0, "", "computed: only a stage that takes the return lead off the source goes this far below"
)
UNEXPLAINED_DB = Limit(
    0.05, "dB", "computed: more than drift and plugs leave of wiring; less may be the setup's own"
)
PLAIN_FLAT_DB = Limit(
    0.03, "dB", "computed: a passive path that loads nothing in line stays below this to 20 kHz"
)
GAIN_OFFSET_DB = Limit(
    0.03, "dB", "computed: more than any drift that the references before and after let through"
)
STAGE_OFFSET_DB = Limit(
    0.15, "dB", "computed: 9 kΩ across the line; switches that need power lose less, followers more"
)
STEADY_DB = Limit(0.3, "dB", "common practice: more between two takes is a path that changes")
PASS_DB = Limit(-28.0, "dB", "computed: a 10 kΩ input through 100 kΩ passes at -22 dB")
SHORT_DB = Limit(-50.0, "dB", "computed: less than 300 Ω across the line behind 100 kΩ")
DEAD_SLOPE_DB = Limit(
    10.0, "dB", "computed: crosstalk through a capacitor rises by 20 dB per decade"
)
LUGS_DB = Limit(
    -80.0, "dB", "computed: at 1 kHz 0.1 pF from lug to lug leaves -72 dB on a lead of 400 pF"
)
BOOST_DB = Limit(1.0, "dB", "common practice: no bypass makes the signal this much louder")
HARMONICS_DB = Limit(
    -45.0, "dB", "common practice: buffers stay below -60 dB, an effect that distorts does not"
)


@dataclass(frozen=True, slots=True)
class GradeLimit:
    """Largest capacitance, conductance and series resistance of a grade.

    Parameters
    ----------
    name : str
        The grade.
    c_farad, g_siemens, series_ohm : float
        Upper ends.
    """

    name: GradeName
    c_farad: float
    g_siemens: float
    series_ohm: float


GRADES: tuple[GradeLimit, ...] = (
    GradeLimit("wire-like", 20e-12, 1 / 5e6, 1.0),
    GradeLimit("light", 60e-12, 1 / 0.9e6, 10.0),
    GradeLimit("loading", 200e-12, 1 / 0.3e6, 100.0),
    GradeLimit("heavy", float("inf"), float("inf"), float("inf")),
)
"""Common practice, from what a guitar's pickup and lead notice."""
