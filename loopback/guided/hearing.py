"""What one short run of setting up says, straight from the rig, before there is a folder."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import F64
from loopback.examination.records import Run
from loopback.noise.density import SEGMENT_S, welch_density
from loopback.noise.figures import NoiseFigures, noise_figures
from loopback.plan.runs import RunLabel
from loopback.quality.finding import Finding
from loopback.quality.gates import judge_recording, judge_take
from loopback.quality.hum import snr_db
from loopback.quality.place import judge_places
from loopback.quality.seen import RunSeen
from loopback.response.join import join_takes
from loopback.response.locate import best_channel, locate_takes
from loopback.response.reading import TakeReading, ToneReading
from loopback.response.silence import silence_s
from loopback.response.take import read_take
from loopback.rig.protocol import Recorded
from loopback.signal.take import MIDDLE_TONE_HZ, Signal

HEARD_DB = -50.0
"""A check tone further below what was played is leakage, not a connection. Judgement: an input
behind its resistor makes -31 dB at worst, leakage -70 dB at best."""
_BAND_HZ = (200.0, 15_000.0)
_CAUSES = ("bit_exact", "digital_zeros", "monitoring")


@dataclass(frozen=True, slots=True)
class Heard:
    """One run of setting up.

    Parameters
    ----------
    label : RunLabel
        What was asked for.
    signal : Signal
        What was played.
    recorded : tuple of Recorded
        As they left the rig.
    findings : tuple of Finding
        Of the gates on files and takes; good ones left out.
    peak_dbfs : float
        Of the path channel; minus infinity for zeros.
    gain_db : float or None
        1 kHz check tone, recorded over played; None: the signal does not arrive.
    elsewhere : int or None
        Another channel, from 0, in which the signal arrives while it does not in its own.
    leak_db : float or None
        Root mean square of the response, 200 Hz to 15 kHz; an upper bound where noise is more.
    noise : NoiseFigures or None
        Of its silence.
    seen : RunSeen or None
        For the gates between runs; None when no take can be read.
    check_gain_db, check_delay_s : float or None
        Of the check cable: its level over what was played, and how much later the path is.
    snr_db : float or None
        Sweep over noise.
    """

    label: RunLabel
    signal: Signal
    recorded: tuple[Recorded, ...]
    findings: tuple[Finding, ...]
    peak_dbfs: float
    gain_db: float | None = None
    elsewhere: int | None = None
    leak_db: float | None = None
    noise: NoiseFigures | None = None
    seen: RunSeen | None = None
    check_gain_db: float | None = None
    check_delay_s: float | None = None
    snr_db: float | None = None

    @property
    def codes(self) -> frozenset[str]:
        """Stable words of all findings."""
        return frozenset(finding.code for finding in self.findings)

    @property
    def bad(self) -> Finding | None:
        """The finding that makes this run useless; a cause before what follows from it."""
        refused = [f for f in self.findings if f.grade == "refuse"]
        return min(refused, key=lambda f: f.code not in _CAUSES, default=None)


def hear(
    number: int,
    label: RunLabel,
    signal: Signal,
    recorded: Sequence[Recorded],
    path_channel: int,
    check_channel: int | None,
) -> Heard:
    """Judge one run of setting up.

    Parameters
    ----------
    number : int
        Which run, for the findings.
    label : RunLabel
        What was asked for.
    signal : Signal
        What was played.
    recorded : sequence of Recorded
        Takes, then perhaps a silence; with samples.
    path_channel : int
        Channel of the path, from 0.
    check_channel : int or None
        Channel of the check cable.

    Returns
    -------
    Heard
        Poor sound becomes findings.
    """
    run_id = f"{number:02d}"
    findings: list[Finding] = []
    takes: list[TakeReading] = []
    peak, elsewhere, quiet = 0.0, None, None
    for one in recorded:
        if one.samples is None:
            continue
        path = one.samples[:, path_channel]
        if one.kind == "silence":
            quiet = _silence(path, one.rate_hz)
            continue
        where = f"{run_id}/{len(takes) + 1}"
        peak = max(peak, float(np.max(np.abs(path), initial=0.0)))
        findings += judge_recording(one.samples, one.rate_hz, signal, label, where, path_channel)
        findings += [_flagged(flag, where) for flag in one.flags]
        located = locate_takes(path, signal, one.expected_start)
        heard = any(place.found for place in located)
        if label.path != "unplugged":
            findings += judge_places(located, signal, run_id, len(takes) + 1)
            if not heard and one.samples.shape[1] > 1:
                elsewhere = _other_channel(one.samples, signal, path_channel, check_channel)
        usable = next((place for place in located if place.usable), None)
        if usable is None or not np.any(path) or not np.isfinite(one.samples).all():
            continue
        reading = read_take(
            one.samples,
            signal,
            usable,
            run_id=run_id,
            recording="",
            number=len(takes) + 1,
            path_channel=path_channel,
            check_channel=check_channel,
        )
        if heard or label.path != "unplugged":
            findings += judge_take(reading, signal, one.samples, label, path_channel)
        takes.append(reading)
    result = Heard(
        label,
        signal,
        tuple(recorded),
        tuple(f for f in findings if f.grade != "good"),
        20 * math.log10(peak) if peak > 0 else -math.inf,
        elsewhere=elsewhere,
        noise=quiet,
    )
    return _with_takes(result, takes, run_id) if takes else result


def _with_takes(result: Heard, takes: Sequence[TakeReading], run_id: str) -> Heard:
    response = join_takes(takes)
    use = (response.f_hz >= _BAND_HZ[0]) & (response.f_hz <= _BAND_HZ[1])
    leak = float(np.mean(np.abs(response.h[use]) ** 2))
    gain = _tone_gain_db(takes[0].tones)
    check = _tone_gain_db(takes[0].check_tones) if takes[0].check is not None else None
    first = takes[0]
    noise = result.noise
    if noise is None and np.isfinite(first.noise_psd).all():
        noise = noise_figures(first.noise_f_hz, first.noise_psd, silence_s(result.signal))
    heard = gain is not None and gain > HEARD_DB
    return replace(
        result,
        gain_db=gain if heard else None,
        leak_db=10 * math.log10(leak) if leak > 0 else -math.inf,
        noise=noise,
        seen=RunSeen(Run(run_id, result.label), tuple(takes), response, noise),
        check_gain_db=check,
        check_delay_s=response.delay_s if check is not None and check > HEARD_DB else None,
        snr_db=snr_db(first),
    )


def _tone_gain_db(tones: Sequence[ToneReading]) -> float | None:
    loud = [t for t in tones if t.f_hz == MIDDLE_TONE_HZ]
    if not loud:
        return None
    tone = max(loud, key=lambda t: t.played_dbfs)
    return tone.level_dbfs - tone.played_dbfs


def _silence(path: F64, rate_hz: int) -> NoiseFigures | None:
    if len(path) < 2 * SEGMENT_S * rate_hz or not np.any(path):
        return None
    f_hz, psd = welch_density(path, rate_hz)
    return noise_figures(f_hz, psd, len(path) / rate_hz)


def _other_channel(
    samples: F64, signal: Signal, path_channel: int, check_channel: int | None
) -> int | None:
    best = best_channel(samples, signal)
    if best in (path_channel, check_channel):
        return None
    return best if any(take.found for take in locate_takes(samples[:, best], signal)) else None


def _flagged(flag: str, where: str) -> Finding:
    return Finding(
        "interrupted",
        "look",
        flag,
        "The interface itself said that sound was interrupted.",
        "Close other programs.",
        where,
    )
