"""Noise and harmonics in bypass as tables: every level with its unit and what covers 95 %."""

from __future__ import annotations

from loopback.facts import Analysis, RunFacts
from loopback.quantity import Estimate, round_together
from loopback.report.absolute import dbu_text
from loopback.report.cable_lines import decibels, told_runs
from loopback.report.harmonic_lines import harmonic_texts
from loopback.report.page_records import Table
from loopback.report.run_names import run_name

_FINEST_DB = 0.01
"""Noise is printed to a hundredth of a decibel: a silence of a few seconds tells no more."""


def noise_table(analysis: Analysis) -> Table:
    """Write noise of the runs in bypass beside that of their references.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        One line for each run; volts where full scale of the input is known.
    """
    full = analysis.examination.setup.full_scale_dbu
    lines = tuple(
        (
            run_name(facts.run, bypass_position=analysis.result.bypass_position),
            _level(facts.noise.a_weighted_dbfs),
            dbu_text(facts.noise.a_weighted_dbfs.value, full).partition(",")[0],
            _level(facts.noise.unweighted_dbfs),
            _level(facts.noise.weighted_468_dbfs),
            "" if facts.noise_over_reference is None else decibels(facts.noise_over_reference),
        )
        for facts in (*_their_references(analysis), *told_runs(analysis))
        if facts.noise is not None
    )
    return Table(
        "Noise while nothing is played, in bypass (*) and with the cable",
        (
            "Run",
            "A-weighted",
            "A, at the input",
            "20 Hz to 20 kHz",
            "468-weighted",
            "A, over cable",
        ),
        lines,
    )


def harmonics_table(analysis: Analysis) -> Table:
    """Write harmonics of the runs in bypass beside those of their references.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        One line for each run, one column for each order.
    """
    found = [
        (run_name(facts.run, bypass_position=analysis.result.bypass_position), texts)
        for facts in (*_their_references(analysis), *told_runs(analysis))
        if (texts := harmonic_texts(facts.behaviour))
    ]
    orders = list(dict.fromkeys(order for _, texts in found for order in texts))
    return Table(
        "Harmonics over the signal, 300 Hz to 2 kHz, in bypass (*) and with the cable",
        ("Run", *orders),
        tuple((name, *(texts.get(order, "") for order in orders)) for name, texts in found),
    )


def _their_references(analysis: Analysis) -> tuple[RunFacts, ...]:
    """Choose the last reference that each of the runs in bypass is held to."""
    wanted = {
        facts.ratio.reference_ids[-1] for facts in told_runs(analysis) if facts.ratio is not None
    }
    return tuple(facts for facts in analysis.references if facts.run.id in wanted)


def _level(estimate: Estimate | None) -> str:
    if estimate is None:
        return ""
    return " dBFS ± ".join(round_together(estimate.value, estimate.half_width(), _FINEST_DB))
