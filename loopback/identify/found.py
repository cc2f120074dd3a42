"""What identification finds, as records."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Shunt:
    """What lies across the line, by whatever method found it.

    Parameters
    ----------
    c_farad, g_siemens : Estimate
        Capacitance and conductance, unbounded (negative values are possible and mean something).
    residual_db : float
        What a plain R and C cannot explain, rms over the band.
    resistor_ohm : float
        Feed resistor used as the standard.
    node_c_farad : float
        Setup capacitance.
    difference : Estimate or None
        Capacitance against the coupler, without the doubt about the coupler itself.
    excess : float
        Root of the reduced sum of squares: what a plain R and C cannot explain, in units of what
        noise and known imperfections allow.
    """

    c_farad: Estimate
    g_siemens: Estimate
    residual_db: float
    resistor_ohm: float
    node_c_farad: float
    difference: Estimate | None = None
    excess: float = 1.0


@dataclass(frozen=True, slots=True)
class Network:
    """A resistor that reaches the line through a capacitor, beside plain capacitance.

    Parameters
    ----------
    r_ohm, coupling_farad, c_farad : Estimate
        Resistor, its series capacitor, and the plain capacitance across the line.
    residual_db : float
        What this cannot explain either, rms over the band.
    direct_g_siemens : Estimate or None
        What is across the line without any capacitor before it; None: not known.
    """

    r_ohm: Estimate
    coupling_farad: Estimate
    c_farad: Estimate
    residual_db: float
    direct_g_siemens: Estimate | None = None


@dataclass(frozen=True, slots=True)
class PartInLine:
    """A capacitor or a transformer between input and output.

    Parameters
    ----------
    c_farad : Estimate or None
        The capacitor; None for a transformer.
    main_henry, leak_henry : Estimate or None
        Inductance across the line with the secondary open, and leakage; None for a capacitor.
    ratio : Estimate or None
        Turns of the winding at the input for one at the output; None for a capacitor.
    """

    c_farad: Estimate | None = None
    main_henry: Estimate | None = None
    leak_henry: Estimate | None = None
    ratio: Estimate | None = None


@dataclass(frozen=True, slots=True)
class BufferInput:
    """Input, gain and output of an active stage.

    Parameters
    ----------
    g_siemens, c_farad : Estimate
        Conductance and capacitance of the input.
    gain_db : Estimate or None
        From a plain run; None without one.
    with_lead : bool
        True when the resistor sat at the interface end: the feeding lead, of which little is known,
        had to be taken off `c_farad`.
    output_ohm : Estimate or None
        Output resistance; None where one load does not show it.
    """

    g_siemens: Estimate
    c_farad: Estimate
    gain_db: Estimate | None
    with_lead: bool
    output_ohm: Estimate | None = None


@dataclass(frozen=True, slots=True)
class PlainBounds:
    """What plain runs exclude, each at 95 %, one-sided.

    Parameters
    ----------
    series_over_ohm : float
        In to out: more than this would show.
    shunt_under_ohm : float
        Tip to sleeve: less than this would show.
    c_over_farad : float
        Tip to sleeve: more than this would show.
    flat_to_hz : float
        Up to where the run is flat within its doubt.
    level : Estimate
        Level against the cable, dB.
    """

    series_over_ohm: float
    shunt_under_ohm: float
    c_over_farad: float
    flat_to_hz: float
    level: Estimate
