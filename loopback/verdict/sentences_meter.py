"""What a meter would read, line by line, with limits where there are any."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.quantity import Estimate, with_prefix
from loopback.verdict.limits import IN_TO_OUT_OHM, INSULATION_OHM, WIRING_C
from loopback.verdict.probability import probability_below
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
    """Give what a meter would read: in to out, tip to sleeve; or a buffer's input.

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
    passive = result.path in ("wired", "loaded", "undecided", "faulty")
    if result.buffer is not None:
        b = result.buffer
        lines.append(MeterLine("input", resistance_text(b.g_siemens)))
        note = "feeding lead included" if b.with_lead else ""
        lines.append(MeterLine("input", capacitance_text(b.c_farad), note=note))
        if b.gain_db is not None:
            lines.append(MeterLine("gain", decibel_text(b.gain_db)))
        lines.append(MeterLine("output", "not resolved with one load"))
    elif passive and (result.shunt is not None or result.plain is not None):
        lines.append(_in_to_out(result))
        lines.extend(_tip_to_sleeve(result))
    return tuple(
        MeterLine(
            line.what,
            written_out(line.value, plain),
            written_out(line.limit, plain),
            line.outcome,
            written_out(line.note, plain),
        )
        for line in lines
    )


def _in_to_out(result: Result) -> MeterLine:
    limit = with_prefix(IN_TO_OUT_OHM.value, "Ω", 2)
    if result.series_ohm is not None:
        outcome = _outcome(probability_below(result.series_ohm, IN_TO_OUT_OHM.value))
        return MeterLine("in to out", ohm_text(result.series_ohm), limit, outcome)
    bounds = result.plain
    if bounds is not None and bounds.series_over_ohm < 1e7:
        text = f"under {with_prefix(bounds.series_over_ohm, 'Ω', 2)}"
        note = "closer only with a check cable or load plug"
        return MeterLine("in to out", text, limit, "undecided", note)
    note = "needs a plain run with a check cable or load plug"
    return MeterLine("in to out", "not resolved", limit, "undecided", note)


def _tip_to_sleeve(result: Result) -> list[MeterLine]:
    r_limit = with_prefix(INSULATION_OHM.value, "Ω", 1)
    c_limit = with_prefix(WIRING_C.value, "F", 2)
    shunt, network = result.shunt, result.network
    if any(r.code in ("series_element", "transformer") for r in result.reasons):
        return [MeterLine("tip to sleeve", "not resolved beside a part in line")]
    if network is not None:
        g = Estimate(1 / network.r_ohm.value, network.r_ohm.u / network.r_ohm.value**2, "siemens")
        note = "on the signal; an ohmmeter reads open: the capacitor blocks DC"
        return [
            MeterLine("tip to sleeve", resistance_text(g), r_limit, _g_outcome(g), note),
            MeterLine("tip to sleeve", capacitance_text(network.c_farad), c_limit),
        ]
    if shunt is not None:
        return [
            MeterLine(
                "tip to sleeve",
                resistance_text(shunt.g_siemens),
                r_limit,
                _g_outcome(shunt.g_siemens),
            ),
            MeterLine(
                "tip to sleeve",
                capacitance_text(shunt.c_farad),
                c_limit,
                _outcome(probability_below(shunt.c_farad, WIRING_C.value)),
                lead_length(shunt),
            ),
        ]
    bounds = result.plain
    if bounds is None:
        return []
    lines = []
    if bounds.shunt_under_ohm > 0:
        text = f"over {with_prefix(bounds.shunt_under_ohm, 'Ω', 2)}"
        lines.append(MeterLine("tip to sleeve", text, r_limit, "undecided"))
    if bounds.c_over_farad < 1e-6:
        text = f"under {with_prefix(bounds.c_over_farad, 'F', 2)}"
        lines.append(MeterLine("tip to sleeve", text, c_limit, "undecided"))
    return lines


def _g_outcome(g: Estimate) -> Outcome:
    return _outcome(probability_below(g, 1 / INSULATION_OHM.value))


def _outcome(inside: float) -> Outcome:
    return "met" if inside >= 0.975 else "not met" if inside <= 0.025 else "undecided"
