"""All gates in the order in which they apply: file, places of the takes, take, runs.

Conventions: a finding that names a run or a take and has the grade *refuse* keeps it out of the
analysis; it stays in the folder. `loopback.quality.finding.refused` tells.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from loopback.arrays import F64
from loopback.examination.records import Run
from loopback.plan.runs import RunLabel
from loopback.quality import (
    band_edge,
    clipping,
    clock,
    coupler,
    disturbance,
    effect,
    hum,
    level,
    limits,
    offset,
    presence,
    processing,
    ripple,
    steadiness,
    wiring,
    zeros,
)
from loopback.quality.finding import Finding, refused
from loopback.quality.seen import RunSeen
from loopback.response.reading import TakeReading
from loopback.signal.take import MIDDLE_TONE_HZ, Signal, layout_of


def judge_recording(
    samples: F64, rate_hz: int, signal: Signal, label: RunLabel, where: str, channel: int = 0
) -> tuple[Finding, ...]:
    """Judge what the samples of one file say before any take is looked for.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels)
        The whole recording, fraction of full scale.
    rate_hz : int
        Sample rate in its header.
    signal : Signal
        What was played.
    label : RunLabel
        Of its run.
    where : str
        Run, for the findings.
    channel : int
        The one that carries the pedal path; values that are no numbers count in all channels.

    Returns
    -------
    tuple of Finding
        A refused recording need not be searched for takes.
    """
    if not len(samples):
        return (
            Finding(
                "no_samples",
                "refuse",
                "0 samples",
                "The file has a header and no sound.",
                "Record it again.",
                where,
            ),
        )
    numbers = level.judge_numbers(samples, where)
    if any(f.grade == "refuse" for f in numbers):
        return numbers
    x = samples[:, channel]
    nothing = level.judge_silence(x, label, where)
    if any(f.code == "digital_zeros" for f in nothing):
        return numbers + nothing
    bits = level.used_bits(x)
    gates: tuple[Callable[[], tuple[Finding, ...]], ...] = (
        lambda: clock.judge_header_rate(rate_hz, signal, where),
        lambda: level.judge_format(bits, where),
        lambda: clipping.judge_clipping(x, bits, where),
        lambda: level.judge_offset(x, where),
    )
    found = [*numbers, *nothing]
    for gate in gates:
        if any(finding.grade == "refuse" for finding in found):
            break
        found += gate()
    return tuple(found)


def judge_take(
    reading: TakeReading, signal: Signal, samples: F64, label: RunLabel, channel: int = 0
) -> tuple[Finding, ...]:
    """Judge one take that was read.

    Parameters
    ----------
    reading : TakeReading
        The take.
    signal : Signal
        What was played.
    samples : ndarray of float64, shape (n, channels)
        The whole recording.
    label : RunLabel
        Of its run.
    channel : int
        The one that carries the pedal path.

    Returns
    -------
    tuple of Finding
        Of all gates on one take, up to the first that refuses it.
    """
    where = f"{reading.run_id}/{reading.number}"
    is_reference = label.path == "coupler"
    x = samples[:, channel]
    bits = level.used_bits(x)
    tone = _steady_tone(x, reading.start, signal)
    bent = abs(processing.tone_pair_error_db(reading.tones)[0])
    # One cause, one action: what comes after a refusal is mostly its consequence.
    gates: tuple[Callable[[], tuple[Finding, ...]], ...] = (
        lambda: presence.judge_exact(x, reading.start, signal, bits, where),
        lambda: zeros.judge_zeros(x, reading.start, signal, bits, where),
        lambda: clock.judge_clock(reading, signal, where),
        lambda: hum.judge_snr(reading, where) if is_reference else (),
        lambda: clipping.judge_flat_tops(tone, where) if is_reference else (),
        lambda: processing.judge_tones(reading.tones, where, is_reference=is_reference),
        lambda: (
            disturbance.judge_disturbance(reading, signal, x, where)
            if bent < limits.TONE_PAIR_DB.look
            else ()
        ),
        lambda: (
            band_edge.judge_band_edge(reading, signal, where, is_reference=is_reference)
            if is_reference or bent < limits.TONE_PAIR_DB.look
            else ()  # what clips has dips of its own
        ),
        lambda: ripple.judge_ripple(reading, where) if is_reference else (),
        lambda: presence.judge_upside_down(reading, where) if is_reference else (),
    )
    found: list[Finding] = []
    for gate in gates:
        found += gate()
        if any(finding.grade == "refuse" for finding in found):
            break
    return tuple(found)


def judge_takes(readings: Sequence[TakeReading]) -> tuple[Finding, ...]:
    """Judge what the takes of one run say about each other, before they are joined.

    Parameters
    ----------
    readings : sequence of TakeReading
        Usable takes of one run.

    Returns
    -------
    tuple of Finding
        Of all gates between takes.
    """
    return steadiness.judge_contact(readings) or disturbance.judge_agreement(readings)


def judge_runs(runs: Sequence[Run], seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Judge what runs say about each other.

    Parameters
    ----------
    runs : sequence of Run
        All counting runs, in the order made.
    seen : sequence of RunSeen
        Those with a usable take, in the same order.

    Returns
    -------
    tuple of Finding
        Of all gates between runs.
    """
    found = [*presence.judge_same_file(runs), *wiring.judge_feeds(seen)]
    # A run with the wrong lead or the wrong file would only raise more alarms elsewhere.
    sound = _unrefused(found, seen)
    found += wiring.judge_pedal_feeds(sound)
    sound = _unrefused(found, sound)
    found += [
        *wiring.judge_references_present(runs, sound),
        *hum.judge_mains(sound),
        *steadiness.judge_repeats(sound),
        *steadiness.judge_references(sound),
        *presence.judge_polarity(sound),
    ]
    sound = _unrefused(found, sound)
    found += [
        *offset.judge_level_offset(sound),
        *wiring.judge_exchanged(sound),
        *effect.judge_effect(sound),
        *presence.judge_equal(sound),
        *coupler.judge_coupler_left(sound),
    ]
    return tuple(found)


def _unrefused(found: Sequence[Finding], seen: Sequence[RunSeen]) -> list[RunSeen]:
    return [item for item in seen if not refused(found, item.run.id)]


def _steady_tone(x: F64, start: int, signal: Signal) -> F64:
    """Return the first full-level 1 kHz tone in the recording, without its fades."""
    for tone in layout_of(signal).tones:
        if tone.f_hz == MIDDLE_TONE_HZ and tone.level_dbfs == signal.level_dbfs:
            begin = start + tone.start + 2 * tone.fade
            if begin >= 0:
                return x[begin : begin + tone.length - 4 * tone.fade]
    return x[:0]
