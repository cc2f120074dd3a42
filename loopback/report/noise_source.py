"""From an analysis to the curves of the picture of noise."""

from __future__ import annotations

from loopback.arrays import F64
from loopback.facts import Analysis, RunFacts
from loopback.noise.bands import BandDensity, band_density
from loopback.noise.figures import BAND_HZ
from loopback.quantity import coverage_factor, with_prefix
from loopback.report.cable_lines import told_runs
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import Curve, LineKind, Mark, Sheet
from loopback.report.run_names import run_name, state_number

_BANDS_PER_OCTAVE = 6


def noise_sheet(analysis: Analysis) -> Sheet:
    """Collect the noise density of the cable and of the pedal, the cable's first.

    Parameters
    ----------
    analysis : Analysis
        Runs without a noise density are left out.

    Returns
    -------
    Sheet
        Mean density in sixths of an octave, dBFS in 1 Hz; one reference for each feed, and the
        powered runs, or all where none had power.
    """
    top_hz = analysis.examination.signal.full_to_hz
    curves: list[Curve] = []
    fed: set[str] = set()
    for facts in analysis.references:
        spectrum = _spectrum(facts, top_hz)
        if spectrum is not None and facts.run.label.feed not in fed:
            fed.add(facts.run.label.feed)
            name = f"{run_name(facts.run)}: the setup's own"
            curves.append(_curve(name, spectrum, "cable", 0))
    powered = [facts for facts in analysis.pedal_runs if facts.run.label.power == "on"]
    for facts in powered or analysis.pedal_runs:
        spectrum = _spectrum(facts, top_hz)
        if spectrum is not None:
            label = facts.run.label
            name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
            curves.append(_curve(name, spectrum, label.feed, state_number(label)))
    return Sheet(
        f"{analysis.examination.pedal.name}: noise while nothing is played",
        f"{where_and_when(analysis)} Curves: mean density in sixths of an octave; bands cover 95 % "
        "of what its lines scatter. Stems: level of single tones. A full-scale sine is 0 dBFS.",
        tuple(curves),
        (),
        _marks(analysis),
    )


def _spectrum(facts: RunFacts, top_hz: float) -> BandDensity | None:
    if facts.noise_f_hz is None or facts.noise_psd is None:
        return None
    return band_density(facts.noise_f_hz, facts.noise_psd, _BANDS_PER_OCTAVE, BAND_HZ[0], top_hz)


def _curve(name: str, spectrum: BandDensity, line: LineKind, state: int) -> Curve:
    half: F64 = coverage_factor() * spectrum.u_db
    return Curve(name, spectrum.f_hz, spectrum.level_dbfs, half, line, state)


def _marks(analysis: Analysis) -> tuple[Mark, ...]:
    """Collect the tones of one run in bypass: its mains lines, and all others."""
    known = [f for f in (*told_runs(analysis), *analysis.pedal_runs) if f.behaviour is not None]
    # A long silence knows its mains lines, a short one does not.
    known.sort(
        key=lambda facts: (
            facts.behaviour is None
            or facts.behaviour.survey is None
            or facts.behaviour.survey.mains is None
        )
    )
    for facts in known:
        behaviour = facts.behaviour
        if behaviour is None or behaviour.survey is None:
            continue
        mains, marks = behaviour.survey.mains, []
        if mains is not None:
            marks += [
                Mark(
                    line.order * mains.f_hz.value,
                    line.level_dbfs.value,
                    f"{line.order * mains.nominal_hz:.0f} Hz",
                    own=False,
                )
                for line in mains.lines
                if line.level_dbfs is not None
            ]
        marks += [
            Mark(
                t.tone.f_hz.value,
                t.tone.level_dbfs.value,
                with_prefix(t.tone.f_hz.value, "Hz", 4),
                own=bool(t.over_reference),
            )
            for t in behaviour.tones
        ]
        return tuple(marks)
    return ()
