"""Wiring faults in words: what it is, from which numbers, and where to look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loopback.verdict.faults.record import Clue, Fault, FaultCode, MeantCode
from loopback.verdict.sentences_clues import CLUES
from loopback.verdict.wording import written_out


@dataclass(frozen=True, slots=True)
class FaultWords:
    """One fault as screen, page and JSON write it.

    Parameters
    ----------
    code : str
        Which.
    rank : int
        1 for the one whose evidence goes furthest.
    weight : float
        How far, 0 to 1; it ranks and is no probability.
    name : str
        A few words, small letters, no full stop.
    evidence : tuple of str
        Whole sentences with the numbers.
    where_to_look : str
        One sentence: which lug, joint, jack or part.
    consistent_with : tuple of str
        Names of other faults that look the same, likeliest first.
    on_purpose : tuple of str
        What a design may do on purpose that looks the same; empty where the name begins with it.
    """

    code: FaultCode
    rank: int
    weight: float
    name: str
    evidence: tuple[str, ...]
    where_to_look: str
    consistent_with: tuple[str, ...]
    on_purpose: tuple[str, ...]


def fault_heading(faults: Sequence[Fault]) -> str:
    """Choose the heading over faults.

    Parameters
    ----------
    faults : sequence of Fault
        Ranked.

    Returns
    -------
    str
        With a question mark where a design may do the same on purpose; neutral where that is as
        likely.
    """
    if faults and faults[0].by_design:
        return "Seen"
    return "Fault?" if faults and faults[0].meant else "Fault"


def fault_words(faults: Sequence[Fault], plain: bool = False) -> tuple[FaultWords, ...]:
    """Write faults out.

    Parameters
    ----------
    faults : sequence of Fault
        Ranked, as an analysis has them.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of FaultWords
        In the same order.
    """
    return tuple(_words(fault, rank, plain) for rank, fault in enumerate(faults, start=1))


def fault_line(words: FaultWords, *, short: bool = False, whole: bool = False) -> str:
    """Write one fault as the screen has it.

    Parameters
    ----------
    words : FaultWords
        From `fault_words`.
    short : bool
        True leaves the evidence out.
    whole : bool
        True writes all evidence, and what looks the same; else only the most telling piece.

    Returns
    -------
    str
        What it is, how that is known, and where to look.
    """
    parts = [f"{words.name[0].upper()}{words.name[1:]}."]
    if not short:
        parts += words.evidence if whole else words.evidence[:1]
    parts.append(words.where_to_look)
    if words.on_purpose and not short:
        parts.append(f"Or it is {' or '.join(words.on_purpose)}.")
    if whole and words.consistent_with:
        parts.append(f"Also consistent with: {'; '.join(words.consistent_with)}.")
    return " ".join(parts)


def _words(fault: Fault, rank: int, plain: bool) -> FaultWords:
    name, where = NAMES[fault.code], WHERE[fault.code]
    if fault.by_design:  # the harmless reading comes first
        name, where = f"{_BY_DESIGN}{name}", f"If it should play: {where[0].lower()}{where[1:]}"
    return FaultWords(
        fault.code,
        rank,
        fault.weight,
        written_out(name, plain),
        tuple(written_out(clue_sentence(clue), plain) for clue in fault.clues),
        written_out(where, plain),
        tuple(written_out(NAMES[code], plain) for code in fault.consistent_with),
        () if fault.by_design else tuple(MEANT[code] for code in fault.meant),
    )


_BY_DESIGN = "nothing passes in the other position: by design in a tuner or an A/B box, or "


def clue_sentence(clue: Clue) -> str:
    """Write one piece of evidence as a sentence.

    Parameters
    ----------
    clue : Clue
        It.

    Returns
    -------
    str
        One sentence.
    """
    return CLUES[clue.code](clue.numbers)


NAMES: dict[FaultCode, str] = {
    "jumper_missing": "bypass jumper missing, or one of its lugs not soldered",
    "columns_swapped": "input and output columns of the footswitch exchanged, or it is turned",
    "jacks_swapped": "input and output jack exchanged at the board",
    "effect_dead": "effect without supply, or dead",
    "ground_tab": "ground soldered to a signal lug of the bypass",
    "effect_shorted": "output of the effect held to ground",
    "jack_shorting": "a jack shorts the signal to its sleeve",
    "plug_half_home": "plug not fully home, or its tip on a wrong contact",
    "not_connected": "a jack is not connected",
    "no_power": "no power reaches the pedal",
    "switch_burnt": "footswitch damaged by heat, or worn",
    "switch_stuck": "footswitch does not switch, or was not pressed",
    "weak_joint": "cold joint or worn contact in the bypass path",
    "pulldown_wrong": "resistor of a wrong value across the line",
    "pulldown_missing": "pulldown missing, or on the board side of the footswitch",
    "pulldown_twice": "a pulldown at both jacks",
    "pulldown_fitted": "a resistor fitted at a jack",
    "input_left": "effect input left on the line in bypass",
    "output_left": "effect output left on the line in bypass",
    "leakage": "leakage: a whisker of solder, or flux",
    "screened_lead": "screened lead, or a long run beside ground, inside",
    "screen_open": "screen of an inside lead not grounded",
    "ground_missing": "sleeve of a jack without ground",
    "supply_hum": "hum of the supply",
    "input_open": "effect input not grounded in bypass",
    "supply_whine": "whine of a charge pump or of the supply",
    "supply_comb": "comb of a switching regulator or of a relay's drive",
    "lamp_pop": "pop of the lamp's current",
    "effect_gain": "the effect's own gain",
    "capacitor_leak": "a coupling capacitor that leaks",
    "electrolytic": "an electrolytic that is reversed or leaks",
    "joint_opens": "a joint or contact that lets go when it is moved",
    "jack_dirty": "dirty jack or control",
}
MEANT: dict[MeantCode, str] = {
    "mute": "a pedal that is silent there on purpose, such as a tuner or an A/B box",
    "fitted_in_line": "a resistor fitted in line on purpose",
    "fitted_across": "a resistor of that value fitted on purpose",
    "shielded": "screened wiring on purpose",
    "mute_part": "a mute at the output that is a capacitor while it is off",
}
WHERE: dict[FaultCode, str] = {
    "jumper_missing": (
        "Look at the footswitch: the wire between the two lugs that join in and out in bypass, and "
        "the joint at each end."
    ),
    "columns_swapped": (
        "Compare the footswitch with the plan: which column carries the input jack, which the "
        "output jack, and whether it sits turned by 90°."
    ),
    "jacks_swapped": (
        "Follow the wire from each jack's tip: the guitar's jack goes to the lug that feeds the "
        "effect's input."
    ),
    "effect_dead": (
        "Measure the supply at the board; then the wires between footswitch and board, and plugs: "
        "a stereo plug can switch the battery off."
    ),
    "ground_tab": (
        "Look for the ground wire or tab on the common lugs of the footswitch, and for a bridge "
        "of solder from a signal lug to ground."
    ),
    "effect_shorted": (
        "Look at the lug that the effect's output goes to, and at the volume control's grounded "
        "end."
    ),
    "jack_shorting": (
        "Look at both jacks with a plug in: tip and sleeve lugs exchanged, a switched contact that "
        "rests on the tip, a lug that touches the box."
    ),
    "plug_half_home": (
        "Push both plugs home; then look whether the tip's contact of each jack reaches the tip, "
        "or the ring's contact does."
    ),
    "not_connected": (
        "Push both plugs home; then follow each tip from its jack to the footswitch, joint by "
        "joint."
    ),
    "no_power": "Measure the supply at the board, with the plugs in that were used here.",
    "switch_burnt": (
        "Measure the footswitch alone, lug to lug in both positions: each pole has to read under "
        "1 Ω one way and open the other."
    ),
    "switch_stuck": (
        "Press and listen for the click; then measure the footswitch alone, lug to lug in both "
        "positions."
    ),
    "weak_joint": (
        "Heat again, in this order: the bypass jumper's two lugs, the lugs of both jacks' wires, "
        "the tips of the jacks; loopback tap shows which moves."
    ),
    "pulldown_wrong": "Read the colours of the resistor from tip to ground at either jack.",
    "pulldown_missing": (
        "Look for the resistor from tip to ground: it belongs on the jack's side of the "
        "footswitch, soldered at both ends."
    ),
    "pulldown_twice": "Look for a resistor from tip to ground at the input and at the output jack.",
    "pulldown_fitted": "Look for a resistor from tip to ground at either jack.",
    "input_left": (
        "Look at the pole of the footswitch at the input side: the effect's input has to leave the "
        "input jack in bypass, and go to ground."
    ),
    "output_left": (
        "Look at the pole of the footswitch at the output side: the effect's output has to leave "
        "the output jack in bypass; turning its volume changes the load if it does not."
    ),
    "leakage": (
        "Clean flux from the footswitch's lugs, the jacks and the board around them, and look for "
        "whiskers between lugs; measure again."
    ),
    "screened_lead": (
        "Shorten the wires from jacks to footswitch, or use plain wire instead of screened."
    ),
    "screen_open": ("Find the screened lead inside: its screen has to reach ground, at one end."),
    "ground_missing": (
        "Measure from the sleeve of each jack to ground of the board: under 1 Ω; a plastic box or "
        "a loose nut does not join them."
    ),
    "supply_hum": "Try a battery, or another outlet of the supply; then its smoothing capacitor.",
    "input_open": (
        "Look for the jumper that grounds the effect's input in bypass; turn the gain down and "
        "listen whether it changes."
    ),
    "supply_whine": (
        "Look at the charge pump or converter: its ground, its capacitors, and how near the wires "
        "of the bypass pass; try a battery."
    ),
    "supply_comb": (
        "Look at what drives relay or lamp and at the switching regulator: a capacitor across it, "
        "and its ground apart from the audio ground."
    ),
    "lamp_pop": (
        "Look at the lamp: its resistor is there, and its ground does not share the audio ground; "
        "a capacitor across it slows the step."
    ),
    "effect_gain": "Turn the effect's volume down and press again.",
    "capacitor_leak": (
        "Look at the coupling capacitor at the jack that pops, and fit 1 MΩ from its outer end to "
        "ground."
    ),
    "electrolytic": (
        "Look at the electrolytic at the output: which way round it is, and whether it is old."
    ),
    "joint_opens": (
        "Tap one joint at a time: jacks, the footswitch's lugs, wires at the board, and the leads "
        "themselves."
    ),
    "jack_dirty": "Clean the jacks' contacts and the controls, and tap again.",
}
