"""Which circuit a result is drawn as, with the values that were identified; or why none is."""

from __future__ import annotations

from loopback.quantity import estimate_text, round_together, with_prefix
from loopback.report.circuit_parts import Across, AcrossKind, Circuit, InLine
from loopback.verdict.conformance import conformities, hidden_behind
from loopback.verdict.result import PartInLine, Result
from loopback.verdict.sentences import would_tell_lines
from loopback.verdict.sentences_path import NAMES, path_sentence, reason_of
from loopback.verdict.sentences_reasons import reason_sentence
from loopback.verdict.wording import (
    capacitance_text,
    decibel_text,
    number,
    ohm_text,
    resistance_text,
)

_NOT_DRAWN = {
    "none": "No circuit is drawn: no pedal was proven to be in the path.",
    "unlisted": "No circuit is drawn: what lies on the line is not in the list of circuits known "
    "here.",
}


def circuit_of(result: Result) -> Circuit | str:
    """Choose the drawing of a result.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    Circuit or str
        A string says why nothing is drawn.
    """
    match result.path:
        case "wired":
            return _straight(result)
        case "loaded":
            return _loaded(result)
        case "buffered":
            return _buffered(result)
        case "converted":
            delay = reason_of(result, "delay")
            late = "" if delay is None else f"{number(delay.numbers, 'ms'):.2f} ms late"
            return Circuit((InLine("converter", below=late),))
        case "silent":
            return _dead(result)
        case "faulty":
            return _faulty(result)
        case "undecided":
            return _why_undecided(result)
        case "none":
            return _NOT_DRAWN["none"]


def _why_undecided(result: Result) -> str:
    """Say what keeps these runs from one circuit, and what would tell."""
    outside = reason_of(result, "outside_list")
    if outside is not None and not result.consistent:
        why = reason_sentence(outside)
    elif len(result.alternatives) > 1:
        why = f"These runs leave open {' and '.join(NAMES[path] for path in result.alternatives)}."
    else:
        why = path_sentence(result)
    tell = would_tell_lines(result)
    return f"No circuit is drawn. {why}" + (f" It would take {tell[0]}." if tell else "")


def _straight(result: Result) -> Circuit:
    """Draw a wire, with what is known of the ohms in it and of what lies across it."""
    stays, note = _stays(result)
    return Circuit((_wire(result) if result.series_ohm else InLine("wire", "wire"), *stays), note)


def _loaded(result: Result) -> Circuit | str:
    stays, note = _stays(result)
    network = result.network
    if network is not None:
        branch = Across(
            (
                ("capacitor", estimate_text(network.coupling_farad, "F")),
                ("resistor", estimate_text(network.r_ohm, "Ω")),
            )
        )
        direct = network.direct_g_siemens
        known = direct is not None and direct.half_width() < 0.5 * direct.value
        beside = (_one("resistor", resistance_text(direct)),) if direct and known else ()
        plain = capacitance_text(network.c_farad)
        if plain.startswith("under"):
            return Circuit((_wire(result), branch, *beside), _bounded([plain]))
        return Circuit((_wire(result), branch, *beside, _one("capacitor", plain)))
    in_line = _part_in_line(result)
    if in_line is not None:
        return Circuit((in_line, *stays), note)
    loss = reason_of(result, "plain_loss")
    if loss is not None:
        text = f"some {with_prefix(number(loss.numbers, 'ohm'), 'Ω', 1)}"
        return Circuit((InLine("wire"), _one("resistor", text)))
    return Circuit((_wire(result), *stays), note) if stays else _NOT_DRAWN["unlisted"]


def _part_in_line(result: Result) -> InLine | None:
    series = result.series_ohm
    resolved = series is not None and series.half_width() < 0.5 * series.value
    text = estimate_text(series, "Ω") if series is not None and resolved else ""
    found = reason_of(result, "part_in_line")
    part = result.in_line
    winding = found is not None and found.numbers.get("kind") == "transformer"
    if winding or reason_of(result, "transformer", "step_up") is not None:
        return _winding(part)
    if reason_of(result, "series_capacitor") is not None:
        known = None if part is None else part.c_farad
        # A large one is only known to be large: its logarithm has the doubt.
        told = known is not None and known.half_width() < 0.5 * known.value
        farad = estimate_text(known, "F") if known is not None and told else "a capacitor in line"
        return InLine("capacitor", farad)
    if found is not None or reason_of(result, "series_element") is not None:
        return InLine("resistor", text or "a part in line")
    return None


def _winding(part: PartInLine | None) -> InLine:
    """Draw a transformer with its inductances, or as a winding of which no more is known."""
    if part is None or part.main_henry is None or part.leak_henry is None or part.ratio is None:
        return InLine("winding", "a winding")
    turns = " ± ".join(round_together(part.ratio.value, part.ratio.half_width()))
    known = (
        f"main {estimate_text(part.main_henry, 'H')}, leak {estimate_text(part.leak_henry, 'H')}"
    )
    return InLine("winding", f"{turns} : 1", known)


def _buffered(result: Result) -> Circuit:
    stage = result.buffer
    if stage is None:
        return Circuit((InLine("stage", "powered stage"),))
    gain = "" if stage.gain_db is None else decibel_text(stage.gain_db)
    items: list[InLine | Across] = [
        _one("resistor", resistance_text(stage.g_siemens)),
        _one("capacitor", capacitance_text(stage.c_farad)),
        InLine("stage", "powered stage", gain),
    ]
    if stage.output_ohm is None:
        return Circuit(tuple(items), "Its output impedance is not resolved with one load.")
    return Circuit((*items, InLine("resistor", estimate_text(stage.output_ohm, "Ω"))))


def _dead(result: Result) -> Circuit:
    if reason_of(result, "dead_short") is not None:
        return Circuit((InLine("wire"), _one("wire", "held to ground"), InLine("wire")))
    return Circuit((InLine("open", "nothing passes"),))


def _faulty(result: Result) -> Circuit:
    part = reason_of(result, "series_resistance")
    if part is not None:
        text = with_prefix(number(part.numbers, "ohm"), "Ω", 2)
        stays, note = _stays(result)
        return Circuit((InLine("resistor", text), *stays), note)
    unsteady = reason_of(result, "not_steady")
    if unsteady is not None:
        text = f"comes and goes, {number(unsteady.numbers, 'db'):.1f} dB"
        return Circuit((InLine("joint", text),))
    return _dead(result)


def _wire(result: Result) -> InLine:
    """Draw what lies in line: a resistor where it is more than the limit of wiring."""
    series = result.series_ohm
    if series is None:
        return InLine("wire")
    text = ohm_text(series)
    if any(line.name == "in_to_out" and line.outcome == "not met" for line in conformities(result)):
        return InLine("resistor", text)
    return InLine("wire", f"wire, {text}")


def _one(kind: AcrossKind, text: str) -> Across:
    return Across(((kind, text),))


def _stays(result: Result) -> tuple[tuple[Across, ...], str]:
    """Draw what is resolved across the line, and say what is only bounded."""
    shunt = result.shunt
    if shunt is None or hidden_behind(result):
        return (), ""
    c = shunt.c_farad if result.network is None else result.network.c_farad
    drawn, bounds = [], []
    texts: tuple[tuple[AcrossKind, str], ...] = (
        ("resistor", resistance_text(shunt.g_siemens)),
        ("capacitor", capacitance_text(c)),
    )
    for kind, text in texts:
        if text.startswith(("over", "under")):
            bounds.append(text)
        else:
            drawn.append(_one(kind, text))
    return tuple(drawn), _bounded(bounds)


def _bounded(bounds: list[str]) -> str:
    return f"Not drawn, since only a bound is known: {', '.join(bounds)}." if bounds else ""
