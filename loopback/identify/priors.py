"""What is believed about a setup before it is measured: data, each with its source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Priors:
    """Standard uncertainties and central values of everything no run of the plan can show.

    All are common practice: figures people who measure with audio interfaces report, not
    specifications. They decide the coverage of every interval.

    Parameters
    ----------
    source_ohm, source_u_log : float
        Output impedance of the interface, and the standard deviation of its natural logarithm:
        150 ohm, nearly always 50 to 300 ohm.
    source_by_resistor : bool
        True where the output impedance was found against the series resistor: it then errs with
        it, in proportion, beside what `source_u_log` says.
    resistor_parallel_farad : float
        Stray capacitance across the series resistor.
    resistor_tolerance : float
        Relative tolerance of a resistor about which nothing was said (5 % part).
    unknown_resistor_ohm, unknown_resistor_u : float
        Stand-in value and its relative standard uncertainty where even the value is not known.
    coupler_farad, coupler_u_farad : float
        Capacitance of the two-jack coupler that the pedal replaces.
    mating_u_farad : float
        Scatter of the capacitance at one plug, from plugging it again and moving its lead.
    shape_u_db : float
        Drift of the treble shape between runs, at 20 kHz, growing as frequency squared.
    reference_gain_u_db : float
        Drift of gain between a plain and a resistor reference run.
    reference_delay_u_s : float
        Error of the delay that was taken off between the two.
    discrepancy : float
        Detail of a response outside every model, relative to it; doubled at `discrepancy_hz`
        and growing below.
    discrepancy_hz : float
        See `discrepancy`.
    load_siemens, load_u_siemens : float
        Conductance of an instrument input (1 megohm as a rule, some 220 kilohm, some 10 megohm).
    line_siemens, line_u_siemens : float
        The same for a line input (10 to 20 kilohm).
    node_farad, node_u_farad : float
        Return lead and input together, where nothing was measured.
    """

    source_ohm: float = 150.0
    source_u_log: float = 0.45
    source_by_resistor: bool = False
    resistor_parallel_farad: float = 0.3e-12
    resistor_tolerance: float = 0.05
    unknown_resistor_ohm: float = 100e3
    unknown_resistor_u: float = 0.4
    coupler_farad: float = 2.0e-12
    coupler_u_farad: float = 0.3e-12
    mating_u_farad: float = 0.3e-12
    shape_u_db: float = 0.001
    reference_gain_u_db: float = 0.005
    reference_delay_u_s: float = 10e-9
    discrepancy: float = 2e-4
    discrepancy_hz: float = 100.0
    load_siemens: float = 1.0e-6
    load_u_siemens: float = 1.0e-6
    line_siemens: float = 75e-6
    line_u_siemens: float = 15e-6
    node_farad: float = 400e-12
    node_u_farad: float = 200e-12


DEFAULT_PRIORS = Priors()
