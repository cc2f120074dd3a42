"""The evidence as tables: measured, interval, limit, source, probability."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.quantity import Estimate, estimate_text, round_together, with_prefix
from loopback.report.cable_lines import decibels, delay_text, told_runs
from loopback.report.page_item import resistor_text
from loopback.report.page_numbers import (
    interval_text,
    probability_text,
    resistance_interval_text,
)
from loopback.report.page_records import Table
from loopback.report.run_names import feed_name
from loopback.verdict.conformance import Conformity, LimitName, conformities
from loopback.verdict.result import Result
from loopback.verdict.sentences import meter_lines
from loopback.verdict.wording import (
    capacitance_text,
    decibel_text,
    ohm_text,
    resistance_text,
)

_HEAD = ("Quantity", "Measured", "95 % interval", "Limit", "Probability", "Outcome")
_NAMES: dict[LimitName, tuple[str, str]] = {
    "in_to_out": ("in to out", "at most"),
    "tip_to_sleeve_r": ("tip to sleeve, resistance", "at least"),
    "tip_to_sleeve_c": ("tip to sleeve, capacitance", "at most"),
}
_BASES = {"second_load": "from a second load", "reversed": "from a reversed run"}


def meter_table(result: Result) -> Table:
    """Write what a meter would read.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    Table
        Without lines where nothing was resolved.
    """
    lines = tuple(
        (line.what, line.value, line.limit, line.outcome, line.note) for line in meter_lines(result)
    )
    limited = any(line.limit for line in meter_lines(result))
    return Table(
        "Limits are those of wiring" if limited else "In bypass",
        ("Between", "Reads", "Limit", "Outcome", "Remark"),
        lines,
    )


def limits_table(result: Result) -> Table:
    """Hold what was measured to the limits of wiring, where they apply.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    Table
        Without lines where no limit applies.
    """
    return Table("Against the limits of wiring", _HEAD, tuple(map(_limit, conformities(result))))


def sources_table(result: Result) -> Table:
    """Say where each limit comes from.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    Table
        Without lines where no limit applies.
    """
    lines = tuple((_NAMES[c.name][0], _sentence(c.limit.source)) for c in conformities(result))
    return Table("Where the limits come from", ("Limit", "Source"), lines)


def other_table(analysis: Analysis) -> Table:
    """Collect what was measured and has no limit.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        One line for each quantity.
    """
    result = analysis.result
    lines = [*_stage(result), *_parts(result)]
    lines += _against_cable(analysis)
    for witness in analysis.witnesses:
        value, doubt = round_together(witness.value.value, witness.value.half_width())
        name = f"AD − BC, {_BASES[witness.basis]} (1: passive, 0: buffered)"
        lines.append((name, f"{value} ± {doubt}", interval_text(witness.value, "")))
    if result.resistor_ohm is not None:
        lines.append(("resistor, as stated", resistor_text(analysis.examination.setup), ""))
    if result.setup_c is not None:
        c = result.setup_c
        lines.append(("capacitance of the setup", estimate_text(c, "F"), interval_text(c, "F")))
    return Table(
        "Other quantities; no limit applies to them",
        ("Quantity", "Measured", "95 % interval"),
        tuple(lines),
    )


def _limit(line: Conformity) -> tuple[str, ...]:
    name, bound = _NAMES[line.name]
    unit = "F" if line.name == "tip_to_sleeve_c" else "Ω"
    measured, interval = "not resolved", ""
    if line.estimate is not None:
        if line.name == "in_to_out":
            measured, interval = ohm_text(line.estimate), interval_text(line.estimate, "Ω")
        elif line.name == "tip_to_sleeve_r":
            measured = resistance_text(line.estimate)
            interval = resistance_interval_text(line.estimate)
        else:
            measured, interval = capacitance_text(line.estimate), interval_text(line.estimate, "F")
    limit = f"{bound} {with_prefix(line.limit.value, unit, 2 if line.limit.value != 5e6 else 1)}"
    return name, measured, interval, limit, probability_text(line.probability), line.outcome


def _stage(result: Result) -> list[tuple[str, ...]]:
    stage = result.buffer
    if stage is None:
        return []
    lines: list[tuple[str, ...]] = [
        (
            "input, resistance",
            resistance_text(stage.g_siemens),
            resistance_interval_text(stage.g_siemens),
        ),
        ("input, capacitance", capacitance_text(stage.c_farad), interval_text(stage.c_farad, "F")),
    ]
    if stage.gain_db is not None:
        lines.append(("gain", decibel_text(stage.gain_db), interval_text(stage.gain_db, "dB")))
    if stage.output_ohm is not None:
        output = stage.output_ohm
        lines.append(("output", estimate_text(output, "Ω"), interval_text(output, "Ω")))
    return lines


def _parts(result: Result) -> list[tuple[str, ...]]:
    told: list[tuple[str, Estimate | None, str]] = []
    if result.network is not None:
        told += [
            ("load behind the capacitor", result.network.r_ohm, "Ω"),
            ("coupling capacitor", result.network.coupling_farad, "F"),
        ]
    part = result.in_line
    if part is not None:
        told += [
            ("capacitor in line", part.c_farad, "F"),
            ("winding in line, main inductance", part.main_henry, "H"),
            ("winding in line, leakage", part.leak_henry, "H"),
            ("winding in line, turns at the input for one at the output", part.ratio, ""),
        ]
    return [
        (name, estimate_text(e, unit).replace("  ", " "), interval_text(e, unit))
        for name, e, unit in told
        if e is not None
    ]


def _against_cable(analysis: Analysis) -> list[tuple[str, ...]]:
    lines: list[tuple[str, ...]] = []
    for facts in told_runs(analysis):
        feed = feed_name(facts.run.label, analysis.examination.setup.resistor_ohm)
        name = "plain lead" if feed == "plain" else f"through {feed}"
        if facts.level is not None:
            interval = interval_text(facts.level, "dB")
            lines.append((f"level, {name}, 200 Hz to 2 kHz", decibels(facts.level), interval))
        if facts.treble:
            f_hz, e = facts.treble[-1]
            what = f"{with_prefix(f_hz, 'Hz', 2)} over 1 kHz, {name}"
            lines.append((what, decibels(e), interval_text(e, "dB")))
        over = facts.noise_over_reference
        if over is not None:
            what = f"noise over the cable, {name}, A-weighted"
            lines.append((what, decibels(over), interval_text(over, "dB")))
        if facts.delay is not None:
            interval = interval_text(facts.delay, "s")
            lines.append((f"delay, {name}", delay_text(facts.delay), interval))
    return lines


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
