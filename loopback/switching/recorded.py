"""Presses and taps of an examination: found in its folder and read."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from loopback.arrays import F64
from loopback.errors import RecordingError
from loopback.examination.records import Recording, Run
from loopback.examination.stored import StoredExamination
from loopback.examination.wav import read_samples
from loopback.plan.runs import RunLabel
from loopback.response.reading import RunResponse
from loopback.signal.watch import Watch
from loopback.switching.placed import place_watch
from loopback.switching.presses import Heard, read_presses
from loopback.switching.result import PressFigures, TapFigures
from loopback.switching.taps import read_taps

VOLTS_AT_0_DBU = math.sqrt(0.6)
"""RMS value of 0 dBu (1 mW in 600 Ω)."""


def footswitch_of(
    folder: StoredExamination, bypass: RunResponse | None = None
) -> PressFigures | None:
    """Read the latest run of presses.

    Parameters
    ----------
    folder : StoredExamination
        The examination.
    bypass : RunResponse or None
        A run in bypass with the same feed, which tells the directions apart; None: there is none.

    Returns
    -------
    PressFigures or None
        None without presses in silence that can be read.
    """
    for run in reversed(folder.document.watched_runs()):
        heard = [h for r in run.recordings if (h := _heard(folder, r)) is not None]
        pressed = [one for one in heard if one.watch.presses]
        silent = next((one for one in pressed[::-1] if not one.watch.steady), None)
        if silent is None:
            continue
        tone = next((one for one in pressed[::-1] if one.watch.steady), None)
        return read_presses(
            silent,
            tone,
            full_scale_v=full_scale_v(folder.document.setup.full_scale_dbu),
            bypass_gain=None if bypass is None else _gain_at(bypass, silent.watch.tone_hz),
            lamp=run.label.lamp,
        )
    return None


def taps_of(folder: StoredExamination) -> TapFigures | None:
    """Read the latest run of taps.

    Parameters
    ----------
    folder : StoredExamination
        The examination.

    Returns
    -------
    TapFigures or None
        None without taps that can be read.
    """
    for run in reversed(folder.document.watched_runs()):
        for recording in reversed(run.recordings):
            heard = _heard(folder, recording)
            if heard is not None and not heard.watch.presses:
                return read_taps(heard.x, heard.rate_hz, heard.watch)
    return None


def press_run(folder: StoredExamination) -> Run | None:
    """Find the latest run with presses.

    Parameters
    ----------
    folder : StoredExamination
        The examination.

    Returns
    -------
    Run or None
        None: nobody pressed.
    """
    runs = folder.document.watched_runs()
    pressed = [run for run in runs if any(r.kind == "presses" for r in run.recordings)]
    return pressed[-1] if pressed else None


def fed_alike(
    folder: StoredExamination, runs: Sequence[tuple[RunLabel, RunResponse]], position: str | None
) -> RunResponse | None:
    """Find a run of sweeps, with power and in bypass, that was fed like the run of presses.

    Parameters
    ----------
    folder : StoredExamination
        The examination.
    runs : sequence of (RunLabel, RunResponse)
        Runs of sweeps.
    position : str or None
        Which position is bypass; None: not known.

    Returns
    -------
    RunResponse or None
        None when nobody pressed, or there is no such run.
    """
    pressed = press_run(folder)
    if pressed is None or position is None:
        return None
    wanted = (pressed.label.feed, position, "on", "instrument", 0.0)
    for label, response in runs:
        if wanted == (label.feed, label.position, label.power, label.load, label.level_db):
            return response
    return None


def full_scale_v(full_scale_dbu: float | None) -> float | None:
    """Turn the level of a full-scale sine into its peak in volts.

    Parameters
    ----------
    full_scale_dbu : float or None
        Level; None: not known.

    Returns
    -------
    float or None
        Volts.
    """
    if full_scale_dbu is None:
        return None
    return math.sqrt(2) * VOLTS_AT_0_DBU * float(10.0 ** (full_scale_dbu / 20))


def _heard(folder: StoredExamination, recording: Recording) -> Heard | None:
    watch: Watch | msgspec.UnsetType = recording.watch
    if isinstance(watch, msgspec.UnsetType):
        return None
    try:
        samples, rate_hz = read_samples(folder.path_of(recording))
    except RecordingError:
        return None
    x: F64 = np.ascontiguousarray(
        samples[:, min(recording.path_channel or 0, samples.shape[1] - 1)]
    )
    if recording.origin and np.isfinite(x).all():
        x = place_watch(x, rate_hz, watch)
    if not np.isfinite(x).all() or len(x) < watch.seconds * rate_hz - 0.1 * rate_hz:
        return None
    return Heard(x, rate_hz, watch)


def _gain_at(response: RunResponse, f_hz: float) -> float:
    return float(np.interp(f_hz, response.f_hz, np.abs(response.h)))
