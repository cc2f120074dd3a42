"""The faults as data: how far their evidence goes by itself, and what else has the same."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loopback.verdict.faults.record import Clue, Fault, FaultCode, MeantCode
from loopback.verdict.limits import Limit


@dataclass(frozen=True, slots=True)
class Signature:
    """One fault.

    Parameters
    ----------
    weight : float
        Share of the units with this evidence whose cause it is, 0 to 1 (judgement).
    beside : tuple of str
        Other faults that leave the same evidence, likeliest first.
    meant : tuple of str
        What a design may do on purpose that looks the same.
    """

    weight: float
    beside: tuple[FaultCode, ...] = ()
    meant: tuple[MeantCode, ...] = ()


SIGNATURES: Mapping[FaultCode, Signature] = {
    # what passes where
    "jumper_missing": Signature(0.8, ("switch_burnt",), ("mute",)),
    "columns_swapped": Signature(0.8, ("switch_burnt",)),
    "jacks_swapped": Signature(0.6, ("effect_dead", "switch_burnt"), ("mute",)),
    "effect_dead": Signature(0.4, ("switch_burnt", "jacks_swapped"), ("mute",)),
    "ground_tab": Signature(0.9, (), ()),
    "effect_shorted": Signature(0.4, (), ("mute",)),
    "jack_shorting": Signature(0.8, ("plug_half_home", "ground_tab")),
    "plug_half_home": Signature(0.7, ("jack_shorting",)),
    "not_connected": Signature(0.7, ("plug_half_home", "no_power", "switch_burnt")),
    "no_power": Signature(0.5, ("not_connected",)),
    "switch_burnt": Signature(0.5, ("jumper_missing",)),
    "switch_stuck": Signature(0.5, ("switch_burnt",)),
    # in line
    "weak_joint": Signature(0.9, ("switch_burnt",), ("fitted_in_line",)),
    # across the line
    "pulldown_wrong": Signature(0.8, ("output_left",), ("fitted_across",)),
    "pulldown_missing": Signature(0.9),
    "pulldown_twice": Signature(0.8, ("leakage",)),
    "pulldown_fitted": Signature(0.7, ("leakage", "input_left")),
    "input_left": Signature(0.8, ("output_left",)),
    "output_left": Signature(0.8, ("input_left",)),
    "leakage": Signature(0.7, ("pulldown_fitted",)),
    "screened_lead": Signature(0.7, (), ("mute_part",)),
    # heard
    "screen_open": Signature(0.8, ("ground_missing",)),
    "ground_missing": Signature(0.7, ("screen_open",)),
    "supply_hum": Signature(0.7, ("ground_missing",)),
    "input_open": Signature(0.8, ("screen_open",)),
    "supply_whine": Signature(0.8, ("input_open",)),
    "supply_comb": Signature(0.8, ("supply_whine",)),
    # pressed and tapped
    "lamp_pop": Signature(0.7, ("effect_gain",)),
    "effect_gain": Signature(0.4, ("lamp_pop",)),
    "capacitor_leak": Signature(0.8, ("electrolytic",)),
    "electrolytic": Signature(0.7, ("capacitor_leak",)),
    "joint_opens": Signature(0.95, ("jack_dirty", "switch_burnt")),
    "jack_dirty": Signature(0.6, ("joint_opens",)),
}

METAL_OHM = Limit(
    3.0, "ohm", "common practice: a solder bridge or lug has tenths, a muting transistor over 5 ohm"
)
HALF_OHM = Limit(
    1000.0, "ohm", "judgement: no part across the line is this small, a plug on a wrong contact is"
)
NEIGHBOURS_F = Limit(
    20e-12, "farad", "common practice: neighbouring lugs and tracks have 0.5 to 5 pF between them"
)
SCREEN_F = Limit(
    10e-12, "farad", "common practice: more than any lugs; 60 pF and more per metre of inside lead"
)
LOW_OHM = Limit(
    150e3, "ohm", "common practice: resistors across a jack go down to 220 kohm, seldom below"
)
HUM_DB = Limit(
    15.0, "dB", "common practice: a missing screen adds 20 to 40 dB; longer leads add a few"
)
TELLS_DB = Limit(3.0, "dB", "judgement: a dead path that changes by so much when power comes")
RISES_DB = Limit(
    6.0, "dB", "computed: stray coupling grows by 20 dB from 1 to 10 kHz, a load that changes less"
)
NOISE_DB = Limit(
    0.5, "dB", "judgement: noise that comes with power, beyond five uncertainties as well"
)
MOVED_DB = Limit(0.2, "dB", "judgement: a hand near the lead does less")
MOST_COUPLING_F = Limit(
    4e-6, "farad", "common practice: inputs are coupled by 1 nF to 2.2 uF, outputs by 1 to 47 uF"
)


@dataclass(frozen=True, slots=True)
class Match:
    """What a rule found.

    Parameters
    ----------
    code : str
        The fault.
    clues : tuple of Clue
        Its evidence.
    share : float
        Of the weight in the table, where the evidence is not whole.
    beside : tuple of str or None
        In place of those of the table; None: those.
    meant : tuple of str or None
        Likewise.
    """

    code: FaultCode
    clues: tuple[Clue, ...]
    share: float = 1.0
    beside: tuple[FaultCode, ...] | None = None
    meant: tuple[MeantCode, ...] | None = None

    def fault(self) -> Fault:
        """Return the record, completed from the table."""
        signature = SIGNATURES[self.code]
        beside = signature.beside if self.beside is None else self.beside
        return Fault(
            self.code,
            min(1.0, signature.weight * self.share),
            self.clues,
            tuple(code for code in beside if code != self.code),
            signature.meant if self.meant is None else self.meant,
        )
