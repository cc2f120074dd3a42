"""A magnetic pickup as a source: coil, winding capacitance, volume and tone pots."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.twoport import cascade, series_impedance, shunt_admittance, voltage_ratio

LEAD_FARAD_PER_M = 100e-12
"""Instrument lead (common practice: 70 to 150 pF/m)."""


@dataclass(frozen=True, slots=True)
class Pickup:
    """One pickup with its controls turned up.

    Parameters
    ----------
    name : str
        As written in sentences.
    l_henry, r_ohm, c_farad : float
        Inductance and resistance of the coil, capacitance of the winding.
    pots_siemens : float
        Conductance of volume and tone pot together; the tone capacitor is a short to the treble.
    """

    name: str
    l_henry: float
    r_ohm: float
    c_farad: float
    pots_siemens: float


SINGLE_COIL = Pickup("single coil", 2.5, 6e3, 110e-12, 2 / 250e3)
TWIN_COIL = Pickup("twin coil", 4.5, 8e3, 130e-12, 2 / 500e3)
"""Typical values of both kinds (common practice: luthiers' measurements)."""
PICKUPS = (SINGLE_COIL, TWIN_COIL)


@dataclass(frozen=True, slots=True)
class Amplifier:
    """Input of an amplifier.

    Parameters
    ----------
    r_ohm, c_farad : float
        A grid leak, and what the first valve makes of its own capacitances (common practice).
    """

    r_ohm: float = 1e6
    c_farad: float = 100e-12


def source_chain(pickup: Pickup, f_hz: F64) -> C128:
    """Chain matrix from the EMF in the coil to the guitar's jack.

    Parameters
    ----------
    pickup : Pickup
        The source.
    f_hz : ndarray of float64, shape (k,)
        Hertz.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        Coil in series, winding and pots across.
    """
    s = np.asarray(2j * math.pi * f_hz, dtype=np.complex128)
    coil = series_impedance(np.asarray(pickup.r_ohm + s * pickup.l_henry))
    return cascade(coil, shunt_admittance(np.asarray(pickup.pots_siemens + s * pickup.c_farad)))


def lead_chain(length_m: float, f_hz: F64) -> C128:
    """Chain matrix of a lead, lumped: exact to a thousandth at audio frequencies.

    Parameters
    ----------
    length_m : float
        Metres.
    f_hz : ndarray of float64, shape (k,)
        Hertz.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        A capacitance across the line.
    """
    s = np.asarray(2j * math.pi * f_hz, dtype=np.complex128)
    return shunt_admittance(np.asarray(s * length_m * LEAD_FARAD_PER_M))


def level_db(chain: C128, amplifier: Amplifier, f_hz: F64) -> F64:
    """Level at the amplifier over the EMF in the coil.

    Parameters
    ----------
    chain : ndarray of complex128, shape (k, 2, 2)
        From the EMF to the amplifier's jack.
    amplifier : Amplifier
        The load.
    f_hz : ndarray of float64, shape (k,)
        Hertz.

    Returns
    -------
    ndarray of float64, shape (k,)
        dB.
    """
    load = 1 / amplifier.r_ohm + 2j * math.pi * f_hz * amplifier.c_farad
    ratio = np.abs(voltage_ratio(chain, 0.0, load))
    return np.asarray(20 * np.log10(np.maximum(ratio, 1e-15)))
