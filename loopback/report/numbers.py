"""Every number of every run, with its interval: for whoever wants to check."""

from __future__ import annotations

from loopback.facts import Analysis, RunFacts
from loopback.meter.lines import learned_text
from loopback.noise.figures import NoiseFigures
from loopback.quality.finding import Finding
from loopback.quantity import Estimate, estimate_text, round_together, with_prefix
from loopback.report.absolute import dbu_text, levels_line
from loopback.report.behaviour_lines import behaviour_rows, bleed_text
from loopback.report.cable_lines import corner_text, decibels, delay_text, rounded_up, signed
from loopback.report.layout import Row, lay_out
from loopback.report.matrix_lines import matrix_rows
from loopback.report.run_names import run_name
from loopback.verdict.wording import stated_text, sure_text

_DROPS_DB = (0.1, 1.0, 3.0)


def every_number(analysis: Analysis, *, signs: bool) -> str:
    """Write all numbers of an examination.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        As many lines as it takes; what stands after ± covers 95 %.
    """
    blocks = number_blocks(analysis)
    blocks.append([Row("Findings", "\n".join(finding_lines(analysis.findings)) or "none")])
    note = Row("Numbers", "What stands after ± covers 95 %. * marks the runs in bypass.")
    levels = Row("Levels", levels_line(analysis.examination))
    scatter = Row("Setup", f"{learned_text(analysis.learned)}.")
    head = [note, levels, scatter]
    return "\n\n".join(lay_out(rows, signs=signs) for rows in [head, *blocks] if rows)


def number_blocks(analysis: Analysis) -> list[list[Row]]:
    """Collect what was computed, block by block: the line, the chain matrix, every run, bleed.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    list of lists of Row
        Blocks and texts may be empty. The first row of a run's block names the run.
    """
    blocks = [_across(analysis), matrix_rows(analysis)]
    blocks += [_run_rows(analysis, facts) for facts in analysis.references]
    blocks += [_run_rows(analysis, facts) for facts in analysis.pedal_runs]
    blocks.append([Row("Bleed", bleed_text(analysis.bleed))])
    return blocks


def finding_lines(findings: tuple[Finding, ...]) -> list[str]:
    """Write findings, each with its mark, place, number, meaning and action.

    Parameters
    ----------
    findings : tuple of Finding
        In any order; kept as they are.

    Returns
    -------
    list of str
        ``!`` marks what was refused.
    """
    marks = {"good": "good", "look": "look", "refuse": "!"}
    return [
        " ".join(
            part
            for part in (
                f"{marks[finding.grade]:<5}",
                f"{finding.where}:" if finding.where else "",
                f"{finding.number}.",
                finding.meaning,
                finding.action,
            )
            if part
        )
        for finding in findings
    ]


def _across(analysis: Analysis) -> list[Row]:
    """Values as computed: here a conductance is a conductance, below zero as well."""
    result = analysis.result
    lines: list[str] = []
    if result.shunt is not None:
        shunt = result.shunt
        lines += [
            f"tip to sleeve {estimate_text(shunt.c_farad, 'F')}",
            f"tip to sleeve {estimate_text(shunt.g_siemens, 'S')}",
            f"not explained by the circuit under {rounded_up(shunt.residual_db)} dB rms",
        ]
    if result.resistor is not None and result.setup_c is not None:
        lines.append(
            f"resistor, as stated, {stated_text(result.resistor, 4)}; "
            f"setup capacitance {estimate_text(result.setup_c, 'F')}"
        )
    if result.series_ohm is not None:
        lines.append(f"in to out {estimate_text(result.series_ohm, 'Ω')}")
    if result.certainty is not None:
        lines.append(f"path {sure_text(result.certainty)}")
    return [Row("Computed", "\n".join(lines))] if lines else []


def _run_rows(analysis: Analysis, facts: RunFacts) -> list[Row]:
    name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
    rows = [Row(f"Run {name}", _taken(facts)), Row("level", _estimate(facts.level))]
    treble = ", ".join(f"{with_prefix(f, 'Hz', 2)} {decibels(e)}" for f, e in facts.treble)
    rows.append(Row("treble", treble and f"against 1 kHz: {treble}"))
    rows += [Row(f"-{drop:g} dB", text) for drop in _DROPS_DB if (text := corner_text(facts, drop))]
    if facts.polarity is not None:
        rows.append(Row("polarity", "kept" if facts.polarity > 0 else "inverted"))
    if facts.delay is not None:
        rows.append(Row("delay", delay_text(facts.delay)))
    if facts.noise is not None:
        rows.append(Row("noise", _noise(facts.noise)))
        full = analysis.examination.setup.full_scale_dbu
        rows.append(Row("", _absolute(facts.noise, full)))
    over, behaviour = facts.noise_over_reference, facts.behaviour
    if over is not None and (behaviour is None or not behaviour.noise):
        rows.append(Row("", f"over the cable {decibels(over)} (A-weighted)"))
    return rows + behaviour_rows(facts, analysis.examination.setup.full_scale_dbu)


def _taken(facts: RunFacts) -> str:
    if facts.response is None:
        return "no take of it could be used"
    count = facts.response.takes
    takes = f"{count} take{'s' if count != 1 else ''}"
    if count > 1:
        takes += f", alike within {rounded_up(facts.response.repeat_db)} dB"
    ratio = facts.ratio
    if ratio is None:
        return takes if facts.run.label.path != "pedal" else f"{takes}; no reference to compare"
    return f"{takes}; against run {' and '.join(ratio.reference_ids)}"


def _estimate(estimate: Estimate | None) -> str:
    if estimate is None:
        return ""
    value, doubt = round_together(estimate.value, estimate.half_width(), 0.001)
    return f"{value} dB ± {doubt} against the cable, 200 Hz to 2 kHz"


def _absolute(noise: NoiseFigures, full_scale_dbu: float | None) -> str:
    text = dbu_text(noise.a_weighted_dbfs.value, full_scale_dbu)
    return f"A-weighted at the input: {text}" if text else ""


def _noise(noise: NoiseFigures) -> str:
    flat, weighted = (
        " dBFS ± ".join(round_together(e.value, e.half_width()))
        for e in (noise.unweighted_dbfs, noise.a_weighted_dbfs)
    )
    text = f"{flat} (20 Hz to 20 kHz), {weighted} A-weighted"
    if noise.mains_hz is not None:
        over, doubt = round_together(noise.mains_over_noise_db, 1.96 * noise.mains_u_db, 0.1)
        text += f"; mains near {noise.mains_hz:g} Hz, {signed(over)} dB ± {doubt} over all other"
    return text
