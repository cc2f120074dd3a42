"""Read one run from its folder: every recording once, gated, and let go before the next."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec
import numpy as np

from loopback.arrays import F64
from loopback.errors import RecordingError
from loopback.examination.records import Recording, Run
from loopback.examination.stored import StoredExamination
from loopback.examination.wav import read_header, read_samples
from loopback.noise.coarse import survey_density
from loopback.noise.density import SEGMENT_S, welch_density
from loopback.noise.figures import NoiseFigures, noise_figures
from loopback.noise.spectrum import LEAST_S
from loopback.noise.survey import ToneSurvey, on_its_clock, survey_tones
from loopback.quality.channels import choose_channels
from loopback.quality.finding import Finding, refused
from loopback.quality.gates import judge_recording, judge_take, judge_takes
from loopback.quality.moving import explain_movement
from loopback.quality.place import judge_places, place_takes
from loopback.quality.seen import RunSeen
from loopback.quality.stored_file import judge_header
from loopback.response.join import join_takes
from loopback.response.reading import TakeReading
from loopback.response.silence import silence_s
from loopback.response.take import read_take
from loopback.signal.take import Signal, layout_of

_NOTED_OFFSET = 1e-4
"""Below it (-80 dBFS) a constant is no matter, and the samples stay as they were recorded."""


@dataclass(frozen=True, slots=True)
class RunRead:
    """What one run says.

    Parameters
    ----------
    run : Run
        As recorded.
    seen : RunSeen or None
        None when no take of it can be used.
    findings : tuple of Finding
        Of the gates on its files and takes.
    timed : bool
        True when a check channel times every usable take.
    noise_f_hz, noise_psd : ndarray of float64 or None
        Density of its silence: the long one where there is one.
    tones : ToneSurvey or None
        Of the long silence; without one a coarse one of the takes' own silences.
    takes : tuple of TakeReading
        All that were read, refused ones as well.
    """

    run: Run
    seen: RunSeen | None
    findings: tuple[Finding, ...]
    timed: bool
    noise_f_hz: F64 | None
    noise_psd: F64 | None
    tones: ToneSurvey | None = None
    takes: tuple[TakeReading, ...] = ()


def read_run(folder: StoredExamination, run: Run) -> RunRead:
    """Read all recordings of one run.

    Parameters
    ----------
    folder : StoredExamination
        Where they lie.
    run : Run
        One of its runs.

    Returns
    -------
    RunRead
        Poor or missing recordings become findings.
    """
    level_dbfs = folder.document.signal.level_dbfs + run.label.level_db
    signal = msgspec.structs.replace(folder.document.signal, level_dbfs=level_dbfs)
    findings: list[Finding] = []
    takes: list[TakeReading] = []
    played = 0
    silence: tuple[F64, F64, float] | None = None
    tones: ToneSurvey | None = None
    for recording in run.recordings:
        if recording.kind in ("presses", "tap"):
            continue
        try:
            header = read_header(folder.path_of(recording))
            samples, rate_hz = read_samples(folder.path_of(recording))
        except RecordingError as error:
            played += recording.kind == "sweep"
            where = f"{run.id}/{played}" if recording.kind == "sweep" else ""
            said = error.found.replace(str(folder.path_of(recording)), recording.file)
            findings.append(Finding("unreadable", "refuse", said, error.means, error.action, where))
            continue
        if recording.kind == "silence":
            x = samples[:, min(recording.path_channel or 0, samples.shape[1] - 1)]
            if len(x) >= 2 * SEGMENT_S * rate_hz and np.isfinite(x).all():
                silence = (*welch_density(x, rate_hz), len(x) / rate_hz)
                tones = (
                    on_its_clock(survey_tones(x, rate_hz)) if len(x) >= LEAST_S * rate_hz else None
                )
            continue
        findings += judge_header(header, len(samples), f"{run.id}/{played + 1}")
        count, read, found = _read_sweeps(samples, rate_hz, recording, run, signal, played + 1)
        played += count
        takes += read
        findings += found
    findings = list(explain_movement(findings, takes, signal, run.label))
    usable = tuple(t for t in takes if not refused(findings, run.id, t.number))
    findings += judge_takes(usable)
    findings = list(explain_movement(findings, takes, signal, run.label))
    usable = tuple(t for t in usable if not refused(findings, run.id, t.number))
    noise, density = _noise(usable, silence, signal)
    if tones is None and density is not None:
        tones = survey_density(*density, silence_s(signal), max(1, len(usable)))
    return RunRead(
        run=run,
        seen=RunSeen(run, usable, join_takes(usable), noise) if usable else None,
        findings=tuple(findings),
        timed=bool(usable) and all(take.check is not None for take in usable),
        noise_f_hz=None if density is None else density[0],
        noise_psd=None if density is None else density[1],
        tones=tones,
        takes=tuple(takes),
    )


def _read_sweeps(
    samples: F64, rate_hz: int, recording: Recording, run: Run, signal: Signal, number: int
) -> tuple[int, list[TakeReading], list[Finding]]:
    """Read one file: how many takes it holds, those that can be read, and what was noticed."""
    first = f"{run.id}/{number}"
    findings = [
        Finding(
            "interrupted",
            "look",
            flag,
            "The interface itself said that sound was interrupted.",
            "Close other programs, and take it again if a take is refused.",
            first,
        )
        for flag in recording.flags
    ]
    channel, check, odd = choose_channels(samples, recording, signal, first)
    findings += odd
    findings += judge_recording(samples, rate_hz, signal, run.label, first, channel)
    if refused(findings, run.id, number):
        return 1, [], findings
    located = place_takes(samples[:, channel], signal, run.label, recording.expected_start)
    findings += judge_places(located, signal, run.id, number)
    takes: list[TakeReading] = []
    for at, place in enumerate(located, start=number):
        if not place.usable or refused(findings, run.id, at):
            continue
        _take_offset_off(samples, place.start, signal)
        reading = read_take(
            samples,
            signal,
            place,
            run_id=run.id,
            recording=recording.file,
            number=at,
            path_channel=channel,
            check_channel=check,
        )
        findings += judge_take(reading, signal, samples, run.label, channel)
        takes.append(reading)
    return max(1, len(located)), takes, findings


def _take_offset_off(samples: F64, start: int, signal: Signal) -> None:
    """Take a constant off, in place: at the ends of a sweep it would be a step, heard at 20 Hz."""
    lead = samples[max(0, start) : max(0, start + layout_of(signal).segment("lead").stop)]
    if len(lead):
        offset = lead.mean(axis=0)
        if np.max(np.abs(offset)) > _NOTED_OFFSET:
            samples -= offset


def _noise(
    takes: tuple[TakeReading, ...], silence: tuple[F64, F64, float] | None, signal: Signal
) -> tuple[NoiseFigures | None, tuple[F64, F64] | None]:
    if silence is not None:
        f_hz, psd, seconds = silence
        return noise_figures(f_hz, psd, seconds), (f_hz, psd)
    quiet = [take for take in takes if np.isfinite(take.noise_psd).all()]
    if not quiet:
        return None, None
    f_hz, psd = quiet[0].noise_f_hz, np.mean([take.noise_psd for take in quiet], axis=0)
    return noise_figures(f_hz, psd, silence_s(signal), len(quiet)), (f_hz, psd)
