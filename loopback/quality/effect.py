"""Whether a run shows the effect instead of the bypass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from loopback.examination.records import Run
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.processing import heard, tone_pair_error_db
from loopback.quality.seen import RunSeen, difference_db, passes, references_of


def harmonic_level_db(item: RunSeen) -> float:
    """Level of the stronger of second and third harmonic, 300 Hz to 2 kHz.

    Parameters
    ----------
    item : RunSeen
        A run.

    Returns
    -------
    float
        dB over the fundamental, median over frequency and takes; nan where not measured.
    """
    levels = []
    for take in item.takes:
        use = (take.f_hz >= 300.0) & (take.f_hz <= 2000.0)
        for order in take.harmonics[:2]:
            size = order[use]
            size = size[np.isfinite(size) & (size > 0)]
            if len(size):
                levels.append(20 * float(np.log10(np.median(size))))
    return max(levels, default=float("nan"))


def shows_effect(item: RunSeen, references: Sequence[RunSeen]) -> str:
    """Tell whether an effect is heard in a run.

    Parameters
    ----------
    item : RunSeen
        A pedal run.
    references : sequence of RunSeen
        Its references, at least one.

    Returns
    -------
    str
        What shows it, with the number; empty when nothing does.
    """
    signs = []
    level = float(np.mean(difference_db(item.response, references[0].response, 200.0, 2000.0)))
    own, setup = harmonic_level_db(item), harmonic_level_db(references[0])
    floor = max(limits.EFFECT_HARMONICS_DBC, setup + limits.EFFECT_HARMONICS_DB)
    if own > floor:
        signs.append(f"harmonics at {own:.0f} dB")
    bent = bent_db(item)
    if bent > limits.EFFECT_COMPRESSION_DB:
        signs.append(f"loud and soft differ by {bent:.1f} dB")
    if level > limits.EFFECT_LEVEL_DB:
        signs.append(f"{level:.1f} dB louder")
    return ", ".join(signs)


def bent_db(item: RunSeen) -> float:
    """Difference between what loud and soft check tones gain, dB.

    Parameters
    ----------
    item : RunSeen
        A run.

    Returns
    -------
    float
        The largest of its takes, zero or more; 0 where the tones are not heard well enough.
    """
    pair = [tone_pair_error_db(take.tones) for take in item.takes if heard(take.tones)]
    return max((abs(error) for error, u in pair if u < 0.1), default=0.0)


def judge_effect(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Name the runs with the effect on, and say so when there is no other.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``effect_on`` (good: which position is which, the data decide),
        ``no_bypass_run`` and ``position_mixed`` (look).
    """
    found: list[Finding] = []
    clean: list[Run] = []
    bent: list[Run] = []
    for item in seen:
        references = references_of(item, seen)
        if item.run.label.path != "pedal" or not references:
            continue
        if not passes(item, references):
            continue
        sign = shows_effect(item, references)
        if not sign:
            clean.append(item.run)
            continue
        bent.append(item.run)
        found.append(
            Finding("effect_on", "good", sign, "The effect is on in this run.", "", item.run.id)
        )
    if found and not clean:
        found.append(
            Finding(
                "no_bypass_run",
                "look",
                f"{found[0].number} in every run that passes",
                "This looks like the effect that is engaged, not like its bypass.",
                "Press the footswitch once and record that as well.",
                " ".join(f.where for f in found),
            )
        )
    return (*found, *_mixed(bent, clean))


def _mixed(bent: Sequence[Run], clean: Sequence[Run]) -> Iterator[Finding]:
    """Find runs with the effect on where another of the same position and power has it off."""
    for run in bent:
        twins = [
            other.id
            for other in clean
            if (other.label.position, other.label.power) == (run.label.position, run.label.power)
        ]
        if twins:
            yield Finding(
                "position_mixed",
                "look",
                f"effect on in run {run.id}, not in run {', '.join(twins)} of the same position",
                "The footswitch was in its other position for one of them, or something on the"
                " line clips behind the resistor lead.",
                f"Make run {run.id} again with the lamp as in run {twins[0]}.",
                run.id,
            )
