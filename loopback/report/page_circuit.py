"""Which circuit a result is drawn as, with the values that were identified; or why none is."""

from __future__ import annotations

from loopback.quantity import estimate_text, with_prefix
from loopback.report.circuit_parts import Across, AcrossKind, Circuit, InLine
from loopback.verdict.result import Result
from loopback.verdict.sentences import meter_lines
from loopback.verdict.sentences_path import reason_of
from loopback.verdict.wording import (
    capacitance_text,
    decibel_text,
    number,
    ohm_text,
    resistance_text,
)

_NOT_DRAWN = {
    "undecided": "No circuit is drawn: more than one fits these runs, or none does.",
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
        case "undecided" | "none":
            return _NOT_DRAWN[result.path]


def _straight(result: Result) -> Circuit:
    """Draw a wire, with what is known of the ohms in it and of what lies across it."""
    series = result.series_ohm
    text = "wire" if series is None else f"wire, {ohm_text(series)}"
    stays, note = _stays(result)
    return Circuit((InLine("wire", text), *stays), note)


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
        plain = _one("capacitor", capacitance_text(network.c_farad))
        return Circuit((_wire(result), branch, *beside, plain))
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
    if found is not None and found.numbers.get("kind") == "transformer":
        return InLine("winding", "a winding")
    if reason_of(result, "transformer", "step_up") is not None:
        return InLine("winding", "a winding")
    if reason_of(result, "series_capacitor") is not None:
        return InLine("capacitor", "a capacitor in line")
    if found is not None or reason_of(result, "series_element") is not None:
        return InLine("resistor", text or "a part in line")
    return None


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
    series = result.series_ohm
    return InLine("wire", "" if series is None else f"wire, {ohm_text(series)}")


def _one(kind: AcrossKind, text: str) -> Across:
    return Across(((kind, text),))


def _stays(result: Result) -> tuple[tuple[Across, ...], str]:
    """Draw what is resolved across the line, and say what is only bounded."""
    shunt = result.shunt
    hidden = any(line.value.startswith("not resolved beside") for line in meter_lines(result))
    if shunt is None or hidden:
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
    note = f"Not drawn, since only a bound is known: {', '.join(bounds)}." if bounds else ""
    return tuple(drawn), note
