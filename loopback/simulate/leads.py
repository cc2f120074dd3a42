"""Leads, coupler and resistor, and the circuit that they make with the pedal between them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from loopback.circuit.netlist import GROUND, Element
from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.simulate.interface import InterfaceModel

EMF = "emf"
OUTPUT_JACK = "jack"
PEDAL_IN = "IN"
PEDAL_OUT = "OUT"
"""The far end of the return lead, which is the interface's input, is the same node."""

_LOSS_BRANCHES_PER_DECADE = 2
_LOSS_RANGE_HZ = (0.1, 1e6)


@dataclass(frozen=True, slots=True)
class Leads:
    """What lies between interface and pedal.

    Parameters
    ----------
    lead_a_f : float
        Capacitance of the feeding lead with its plugs, farad (3 m at 100 pF/m: common practice).
    return_f : float
        Capacitance of the return lead with its plugs, farad.
    return_s : float
        Conductance across the return lead, siemens (sound insulation: none).
    tan_delta : float
        Dielectric loss of the return lead, the same at all audio frequencies (polyethylene below
        0.0003, PVC 0.01 to 0.1: tables of cable makers); 0: none.
    coupler_f : float
        Capacitance of the coupler, farad.
    mating_f : float
        Standard deviation of the capacitance of each end each time it is plugged, farad (0.15 pF
        with care: judgement).
    walk_f : float
        Step of a random walk of each lead's capacitance from run to run, farad; lead taped down.
    resistor_ohm : float
        Nominal value where a run does not state one.
    resistor_error : float
        Relative error of the true value.
    resistor_stray_f : float
        Capacitance across the resistor, farad.
    plug_ohm : float
        Load plug where a run does not state its value.
    plug_error : float
        Relative error of its true value.
    """

    lead_a_f: float = 300e-12
    return_f: float = 300e-12
    return_s: float = 0.0
    tan_delta: float = 0.0
    coupler_f: float = 2e-12
    mating_f: float = 0.15e-12
    walk_f: float = 0.05e-12
    resistor_ohm: float = 100e3
    resistor_error: float = 0.002
    resistor_stray_f: float = 0.3e-12
    plug_ohm: float = 1e3
    plug_error: float = 0.001

    @classmethod
    def ideal(cls, **changes: Any) -> Leads:
        """Return leads that are a capacitance each and nothing else, never moved.

        Parameters
        ----------
        **changes : float
            Fields that differ from it.

        Returns
        -------
        Leads
            Without coupler capacitance, scatter, error or stray.
        """
        nothing = cls(
            coupler_f=0.0,
            mating_f=0.0,
            walk_f=0.0,
            resistor_error=0.0,
            resistor_stray_f=0.0,
            plug_error=0.0,
        )
        return replace(nothing, **changes)


@dataclass(frozen=True, slots=True)
class Chance:
    """How the leads happen to lie in one run, on top of their nominal values.

    Parameters
    ----------
    lead_a_f, return_f : float
        Change of either lead's capacitance, farad.
    in_f, out_f : float
        Change at the pedal's input and output end from plugging, farad.
    """

    lead_a_f: float = 0.0
    return_f: float = 0.0
    in_f: float = 0.0
    out_f: float = 0.0


@dataclass(frozen=True, slots=True)
class HookUp:
    """One circuit from the EMF of the output to the input.

    Parameters
    ----------
    elements : tuple of Element
        Everything but the EMF itself.
    source : tuple of str
        Nodes of the EMF.
    out : str
        Node of the input.
    """

    elements: tuple[Element, ...]
    source: tuple[str, str] = (EMF, GROUND)
    out: str = PEDAL_OUT

    def at_rest(self) -> tuple[Element, ...]:
        """Return the circuit with the EMF shorted, for its thermal noise."""
        return tuple(
            replace(e, nodes=tuple(GROUND if n == EMF else n for n in e.nodes))
            for e in self.elements
        )


def load_ohm(label: RunLabel, interface: InterfaceModel, leads: Leads) -> float:
    """Resistance of the input that a run ends in, load plug included.

    Parameters
    ----------
    label : RunLabel
        The run.
    interface : InterfaceModel
        Its inputs.
    leads : Leads
        Has the load plug.

    Returns
    -------
    float
        Ohm.
    """
    if label.load == "line":
        return interface.line_ohm
    if label.load == "plug":
        nominal = leads.plug_ohm if label.load_ohm is None else label.load_ohm
        plug = nominal * (1 + leads.plug_error)
        return 1 / (1 / interface.input_ohm + 1 / plug)
    return interface.input_ohm


def hook_up(
    label: RunLabel,
    pedal: tuple[Element, ...],
    interface: InterfaceModel,
    leads: Leads,
    chance: Chance,
) -> HookUp:
    """Join output, leads, resistor, coupler or pedal, and input to one circuit.

    Parameters
    ----------
    label : RunLabel
        What is really connected.
    pedal : tuple of Element
        Two-port of the pedal between ``IN`` and ``OUT``; not used with the coupler.
    interface : InterfaceModel
        Output and input impedance.
    leads : Leads
        Nominal values.
    chance : Chance
        How they lie in this run.

    Returns
    -------
    HookUp
        To be solved by `loopback.circuit.nodal`.

    Raises
    ------
    ArgumentError
        If nothing is plugged in, or a resistor or load plug is not above zero.
    """
    if label.path == "unplugged":
        raise ArgumentError("An unplugged run has no circuit from output to input.")
    elements: list[Element] = []
    resistor = label.feed == "resistor"
    jack = OUTPUT_JACK if resistor else PEDAL_IN
    elements.append(Element("R", "Rout", (EMF, jack), interface.output_ohm))
    at_interface = label.resistor_end == "interface"
    lead_node = PEDAL_IN if not resistor or at_interface else OUTPUT_JACK
    _capacitor(elements, "Clead", lead_node, leads.lead_a_f + chance.lead_a_f)
    if resistor:
        nominal = leads.resistor_ohm if label.resistor_ohm is None else label.resistor_ohm
        _resistor(elements, "Rseries", (jack, PEDAL_IN), nominal * (1 + leads.resistor_error))
        if leads.resistor_stray_f:
            stray = Element("C", "Cstray", (jack, PEDAL_IN), leads.resistor_stray_f)
            elements.append(stray)
    if label.path == "coupler":
        elements = [_renamed(e, {PEDAL_IN: PEDAL_OUT}, "") for e in elements]
        both_ends = leads.coupler_f + chance.in_f + chance.out_f
        _capacitor(elements, "Ccoupler", PEDAL_OUT, both_ends)
    else:
        swap = label.direction == "reversed"
        names = {PEDAL_IN: PEDAL_OUT, PEDAL_OUT: PEDAL_IN} if swap else {}
        elements.extend(_renamed(e, names, "pedal.") for e in pedal)
        _capacitor(elements, "Cin", PEDAL_IN, chance.in_f)
        _capacitor(elements, "Cout", PEDAL_OUT, chance.out_f)
    _return_lead(elements, leads, leads.return_f + chance.return_f)
    _capacitor(elements, "Cinput", PEDAL_OUT, interface.input_f)
    _resistor(elements, "Rinput", (PEDAL_OUT, GROUND), load_ohm(label, interface, leads))
    return HookUp(tuple(elements))


def lossy_capacitor(name: str, node: str, c_farad: float, tan_delta: float) -> tuple[Element, ...]:
    """Capacitor to ground with a loss factor that is the same at all audio frequencies.

    Such a dielectric has an admittance that goes with ``(jω)^(1 - α)``, ``tan δ = tan(π α / 2)``
    (constant-phase element; Jonscher 1977 for the dielectrics). It is built as a sum of Debye
    relaxations: branches of resistor and capacitor, two to a decade, from 0.1 Hz to 1 MHz.

    Parameters
    ----------
    name, node : str
        Prefix of the elements, and where it sits.
    c_farad : float
        Capacitance at 1 kHz.
    tan_delta : float
        Loss factor, 0 to 0.2.

    Returns
    -------
    tuple of Element
        One capacitor, or with a loss the branches as well.
    """
    if tan_delta == 0:
        return (Element("C", name, (node, GROUND), c_farad),)
    alpha = 2 / math.pi * math.atan(tan_delta)
    step = math.log(10) / _LOSS_BRANCHES_PER_DECADE
    low, high = (math.log(f / 1000.0) for f in _LOSS_RANGE_HZ)
    places = [low + i * step for i in range(round((high - low) / step) + 1)]
    shares = [alpha * step * math.exp(-alpha * place) for place in places]
    rest = math.exp(-alpha * (places[-1] + step / 2))
    # What counts at 1 kHz of a branch with its corner at f is C / (1 + (1 kHz / f)²).
    at_1k = rest + sum(c / (1 + math.exp(-2 * x)) for c, x in zip(shares, places, strict=True))
    out = [Element("C", name, (node, GROUND), c_farad * rest / at_1k)]
    for i, (share, place) in enumerate(zip(shares, places, strict=True)):
        branch_f = c_farad * share / at_1k
        r_ohm = 1 / (2 * math.pi * 1000.0 * math.exp(place) * branch_f)
        out.append(Element("C", f"{name}{i}", (node, f"{name}.{i}"), branch_f))
        out.append(Element("R", f"R{name}{i}", (f"{name}.{i}", GROUND), r_ohm))
    return tuple(out)


def _return_lead(elements: list[Element], leads: Leads, c_farad: float) -> None:
    elements.extend(lossy_capacitor("Creturn", PEDAL_OUT, c_farad, leads.tan_delta))
    if leads.return_s:
        _resistor(elements, "Rreturn", (PEDAL_OUT, GROUND), 1 / leads.return_s)


def _capacitor(elements: list[Element], name: str, node: str, c_farad: float) -> None:
    """Add a capacitor to ground; a change of one that is there may well be negative."""
    if c_farad:
        elements.append(Element("C", name, (node, GROUND), c_farad))


def _resistor(elements: list[Element], name: str, nodes: tuple[str, str], r_ohm: float) -> None:
    if not r_ohm > 0:
        raise ArgumentError(f"A resistance of {r_ohm:g} Ω was given; it must be above zero.")
    elements.append(Element("R", name, nodes, r_ohm))


def _renamed(element: Element, names: dict[str, str], prefix: str) -> Element:
    """Exchange node names; inner nodes of a pedal get a prefix against those outside."""
    fixed = (GROUND, PEDAL_IN, PEDAL_OUT)
    nodes = tuple(
        names.get(n, n) if n in fixed or not prefix else prefix + n for n in element.nodes
    )
    return replace(element, name=prefix + element.name, nodes=nodes)
