"""What a run does beyond its response: noise, tones, distortion, change with time, latency."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loopback.noise.compare import NoiseCompared, compare_noise
from loopback.noise.survey import ToneCompared, ToneSurvey, compare_tones
from loopback.plan.runs import RunLabel
from loopback.quality.read_run import RunRead
from loopback.quality.seen import same_hookup
from loopback.response.distortion import Distortion, distortion_of
from loopback.response.latency import Latency, NoLatency, Openings, find_latency
from loopback.response.linearity import Linearity, find_linearity
from loopback.response.movement import Movement, find_movement
from loopback.response.reading import Ratio
from loopback.signal.take import Signal


@dataclass(frozen=True, slots=True)
class Behaviour:
    """One run, beside its references where it has any.

    Parameters
    ----------
    noise : tuple of NoiseCompared
        Each level over that of the reference; empty without one.
    survey : ToneSurvey or None
        Mains lines and other tones; None without a long silence.
    tones : tuple of ToneCompared
        The other tones beside those of the reference and of the runs without power.
    distortion : Distortion or None
        Harmonics over frequency; None where no take could be read.
    linearity : Linearity or None
        Loud against soft; None for a reference, and for a run without one at its level.
    movement : Movement or None
        Change with time; None where nothing passes.
    latency : Latency or None
        None where it is not known; of a reference there is none.
    no_latency : str or None
        Why it is not known; None where it is, and for a reference.
    """

    noise: tuple[NoiseCompared, ...]
    survey: ToneSurvey | None
    tones: tuple[ToneCompared, ...]
    distortion: Distortion | None
    linearity: Linearity | None
    movement: Movement | None
    latency: Latency | None
    no_latency: NoLatency | None = None

    @property
    def steady(self) -> bool:
        """False for a path that changes with time or with level, so that runs do not compare."""
        if self.linearity is not None and self.linearity.level_dependent == "yes":
            return False
        return self.movement is None or self.movement.kind == "steady"


def find_behaviours(
    reads: Sequence[RunRead], ratios: Mapping[str, Ratio], signal: Signal
) -> dict[str, Behaviour]:
    """Look at every run of an examination.

    Parameters
    ----------
    reads : sequence of RunRead
        All runs.
    ratios : mapping of str to Ratio
        By run, for those that have one and are not refused.
    signal : Signal
        What was played at full level.

    Returns
    -------
    dict of str to Behaviour
        By run.
    """
    return {read.run.id: _behaviour(read, reads, ratios, signal) for read in reads}


def _behaviour(
    read: RunRead, reads: Sequence[RunRead], ratios: Mapping[str, Ratio], signal: Signal
) -> Behaviour:
    label, ratio = read.run.label, ratios.get(read.run.id)
    references = [
        other
        for other in reads
        if other.run.label.path == "coupler"
        and other is not read
        and same_hookup(other.run, read.run)
    ]
    pedal = label.path == "pedal"
    quiet = next((r.seen.noise for r in references if r.seen and r.seen.noise), None)
    own = None if read.seen is None else read.seen.noise
    surveys = [r.tones for r in references if r.tones is not None]
    movement = find_movement(read.takes, signal)
    level_takes = [
        take
        for other in references
        if other.run.label.level_db == label.level_db and other.seen is not None
        for take in other.seen.takes
    ]
    usable = read.takes if read.seen is None else read.seen.takes
    latency: Latency | NoLatency | None = None
    if pedal:
        latency = _latency(read, ratio, movement, reads, signal.rate_hz)
    return Behaviour(
        noise=compare_noise(own, quiet) if pedal and own and quiet else (),
        survey=read.tones,
        tones=()
        if read.tones is None or not pedal
        else compare_tones(read.tones, surveys, _without_power(read, reads)),
        distortion=distortion_of(usable, signal) if movement is not None else None,
        linearity=find_linearity(
            read.run.id, usable, level_takes, signal, _levels(label, ratio, reads, ratios), movement
        )
        if pedal and movement is not None
        else None,
        movement=movement,
        latency=latency if isinstance(latency, Latency) else None,
        no_latency=None if isinstance(latency, Latency) else latency,
    )


def _without_power(read: RunRead, reads: Sequence[RunRead]) -> list[ToneSurvey]:
    """Find silences of the same hook-up without power; of a run without power there are none."""
    label = read.run.label
    if label.power != "on":
        return []
    same = [
        other
        for other in reads
        if other.run.label.path == "pedal"
        and other.run.label.power == "off"
        and same_hookup(other.run, read.run)
        and other.run.label.direction == label.direction
        and other.tones is not None
    ]
    alike = [other for other in same if other.run.label.position == label.position]
    return [other.tones for other in alike or same if other.tones is not None]


def _levels(
    label: RunLabel, ratio: Ratio | None, reads: Sequence[RunRead], ratios: Mapping[str, Ratio]
) -> tuple[Ratio, Ratio] | None:
    """Find the same hook-up played at another level, the louder one first."""
    if ratio is None:
        return None
    for other in reads:
        soft = other.run.label
        pair = ratios.get(other.run.id)
        alike = (soft.path, soft.power, soft.position, soft.direction) == (
            label.path, label.power, label.position, label.direction
        )  # fmt: skip
        feeds = (soft.feed, soft.load, soft.load_ohm) == (label.feed, label.load, label.load_ohm)
        if pair is not None and alike and feeds and soft.level_db != label.level_db:
            return (ratio, pair) if label.level_db > soft.level_db else (pair, ratio)
    return None


def _openings(ratio: Ratio, reads: Sequence[RunRead], rate_hz: int) -> Openings | None:
    """Collect where the takes of like references begin, their own small delays put on."""
    groups: dict[tuple[object, ...], list[float]] = {}
    mine: list[float] = []
    for read in reads:
        label = read.run.label
        if label.path != "coupler" or read.seen is None:
            continue
        start_s = _start_s(read, rate_hz) + read.seen.response.delay_s
        key = (label.feed, label.load, label.load_ohm)
        groups.setdefault(key, []).append(start_s)
        if read.run.id in ratio.reference_ids:
            mine.append(start_s)
    if not mine:
        return None
    apart = [start - sum(row) / len(row) for row in groups.values() for start in row]
    return Openings(sum(mine) / len(mine), tuple(apart), len(groups), len(mine))


def _start_s(read: RunRead, rate_hz: int) -> float:
    takes = read.takes if read.seen is None else read.seen.takes
    return takes[0].start / rate_hz


def _latency(
    read: RunRead,
    ratio: Ratio | None,
    movement: Movement | None,
    reads: Sequence[RunRead],
    rate_hz: int,
) -> Latency | NoLatency:
    if movement is None:
        return "does_not_pass"
    if movement.kind not in ("steady", "modulated"):
        return "moves"
    openings = None if ratio is None else _openings(ratio, reads, rate_hz)
    if ratio is None or openings is None:
        return "no_reference"
    if not ratio.delay_held and any(
        _recorded_elsewhere(other)
        for other in reads
        if other.run.id in (read.run.id, *ratio.reference_ids)
    ):
        return "recorded_elsewhere"
    first = next(r for r in reads if r.run.id == ratio.reference_ids[0])
    own = 0.0 if first.seen is None else first.seen.response.delay_s
    return find_latency(ratio, _start_s(read, rate_hz) + own, openings, rate_hz)


def _recorded_elsewhere(read: RunRead) -> bool:
    """Tell whether no rig knew where the takes of a run were to begin."""
    return any(r.kind == "sweep" and r.expected_start is None for r in read.run.recordings)
