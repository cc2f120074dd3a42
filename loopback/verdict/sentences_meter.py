"""What a meter would read, line by line, with limits where there are any."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from loopback.identify.found import BufferInput, PlainBounds
from loopback.quantity import estimate_text, with_prefix
from loopback.verdict.conformance import Conformity, conformities, hidden_behind
from loopback.verdict.limits import IN_TO_OUT_OHM, INSULATION_OHM, WIRING_C
from loopback.verdict.result import Result
from loopback.verdict.wording import (
    capacitance_text,
    decibel_text,
    lead_length,
    ohm_text,
    resistance_text,
    written_out,
)

Outcome = Literal["met", "not met", "undecided", ""]


@dataclass(frozen=True, slots=True)
class MeterLine:
    """One line of "as on a meter".

    Parameters
    ----------
    what, value : str
        Quantity and its text.
    limit : str
        The limit; empty: none applies.
    outcome : {"met", "not met", "undecided", ""}
        Against the limit, by a probability of 97.5 %.
    note : str
        A remark, such as the length of lead; may be empty.
    """

    what: str
    value: str
    limit: str = ""
    outcome: Outcome = ""
    note: str = ""


def meter_lines(result: Result, plain: bool = False) -> tuple[MeterLine, ...]:
    """Give what a meter would read: in to out, tip to sleeve; or a buffer's input and output.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out.

    Returns
    -------
    tuple of MeterLine
        Empty where nothing was resolved.
    """
    lines: list[MeterLine] = []
    if result.buffer is not None:
        lines = _stage(result.buffer)
    elif result.shunt is not None:
        lines = _passive(result)
    elif result.plain is not None and result.path in ("wired", "loaded", "undecided", "faulty"):
        lines = _plain_only(result, result.plain)
    return tuple(
        replace(
            line,
            value=written_out(line.value, plain),
            limit=written_out(line.limit, plain),
            note=written_out(line.note, plain),
        )
        for line in lines
    )


def _stage(stage: BufferInput) -> list[MeterLine]:
    note = "the feeding lead was taken off: it is known only roughly" if stage.with_lead else ""
    lines = [
        MeterLine("input", resistance_text(stage.g_siemens)),
        MeterLine("input", capacitance_text(stage.c_farad), note=note),
    ]
    if stage.gain_db is not None:
        lines.append(MeterLine("gain", decibel_text(stage.gain_db)))
    if stage.output_ohm is None:
        lines.append(MeterLine("output", "not resolved with one load"))
    else:
        lines.append(MeterLine("output", estimate_text(stage.output_ohm, "Ω")))
    return lines


def _passive(result: Result) -> list[MeterLine]:
    in_line, across_r, across_c = conformities(result)
    lines = [_in_to_out(in_line, result)]
    hidden = hidden_behind(result)
    if hidden:
        return [*lines, MeterLine("tip to sleeve", f"not resolved beside {hidden}")]
    shunt, network = result.shunt, result.network
    assert shunt is not None
    blocked = ""
    if network is not None:
        blocked = "on the signal; an ohmmeter reads open: the capacitor blocks DC"
        direct = network.direct_g_siemens
        if direct is not None and direct.half_width() < 0.5 * direct.value:
            direct_text = with_prefix(1 / direct.value, "Ω", 2)
            blocked = f"on the signal; an ohmmeter reads {direct_text}: a capacitor blocks the rest"
    c = shunt.c_farad if network is None else network.c_farad
    return [
        *lines,
        _limited("tip to sleeve", resistance_text(shunt.g_siemens), _r_limit(), across_r, blocked),
        _limited("tip to sleeve", capacitance_text(c), _c_limit(), across_c, lead_length(c)),
    ]


def _in_to_out(line: Conformity, result: Result) -> MeterLine:
    limit = with_prefix(IN_TO_OUT_OHM.value, "Ω", 2)
    if {"blocked", "switched"} & set(result.consistent):
        note = "an ohmmeter reads open: a capacitor lies in line"
    elif "transformer" in result.consistent:
        note = "an ohmmeter may read open or a winding: a transformer lies in line"
    else:
        note = ""
    if line.estimate is None:
        if result.consistent and set(result.consistent) <= {"transformer"}:
            return MeterLine("in to out", "a winding", note=note)
        return MeterLine(
            "in to out", "not resolved", limit, "undecided",
            note or "needs a plain run, with a check cable or load plug",
        )  # fmt: skip
    if line.outcome == "undecided" and not note:
        note = "closer only with a check cable or load plug"
    return MeterLine("in to out", ohm_text(line.estimate), limit, line.outcome, note)


def _limited(what: str, value: str, limit: str, line: Conformity, note: str) -> MeterLine:
    if line.outcome == "undecided" and line.probability is not None:
        inside = f"{100 * line.probability:.0f} % inside"
        note = f"{inside}; {note}" if note else inside
    return MeterLine(what, value, limit, line.outcome, note)


def _plain_only(result: Result, bounds: PlainBounds) -> list[MeterLine]:
    limit = with_prefix(IN_TO_OUT_OHM.value, "Ω", 2)
    note = "closer only with a check cable or load plug"
    lines = []
    if result.series_ohm is not None:
        text = ohm_text(result.series_ohm)
        lines.append(MeterLine("in to out", text, limit, "not met"))
    elif bounds.series_over_ohm < 1e7:
        text = f"under {with_prefix(bounds.series_over_ohm, 'Ω', 2)}"
        lines.append(MeterLine("in to out", text, limit, "undecided", note))
    else:
        lines.append(MeterLine("in to out", "not resolved", limit, "undecided", note))
    if any(r.code in ("series_element", "transformer", "step_up") for r in result.reasons):
        return [*lines, MeterLine("tip to sleeve", "not resolved beside a part in line")]
    if bounds.shunt_under_ohm > 0:
        text = f"over {with_prefix(bounds.shunt_under_ohm, 'Ω', 2)}"
        lines.append(MeterLine("tip to sleeve", text, _r_limit(), "undecided"))
    if bounds.c_over_farad < 1e-6:
        text = f"under {with_prefix(bounds.c_over_farad, 'F', 2)}"
        lines.append(MeterLine("tip to sleeve", text, _c_limit(), "undecided"))
    return lines


def _r_limit() -> str:
    return with_prefix(INSULATION_OHM.value, "Ω", 1)


def _c_limit() -> str:
    return with_prefix(WIRING_C.value, "F", 2)
