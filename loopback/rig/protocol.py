"""The one small protocol behind which device, files and simulator stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

from loopback.arrays import F64
from loopback.plan.runs import RunLabel
from loopback.signal.take import Signal
from loopback.signal.watch import Watch

RecordingKind = Literal["sweep", "silence", "presses", "tap"]


@dataclass(frozen=True, slots=True)
class RigFacts:
    """What stands on the table, for the record.

    Parameters
    ----------
    kind : {"device", "files", "simulator"}
        Which rig.
    name : str
        The box, or the simulated pedal, in the user's words.
    path_channel : int or None
        Channel of a recording, from 0, that carries the pedal path; None: to be found in the data.
    check_channel : int or None
        Channel of the check cable; None where there is none.
    full_scale_dbu : float or None
        Level of a full-scale sine at the input; None: not known.
    corner_hz : float or None
        High-pass corner of the input; None: not known.
    """

    kind: Literal["device", "files", "simulator"]
    name: str
    path_channel: int | None = 0
    check_channel: int | None = None
    full_scale_dbu: float | None = None
    corner_hz: float | None = None


@dataclass(frozen=True, slots=True)
class RunRequest:
    """One run to be played and recorded.

    Parameters
    ----------
    label : RunLabel
        The hook-up the user was asked for.
    signal : Signal
        What each take plays.
    takes : int
        How many takes, in one stream.
    silence_s : float
        Length of one long silence after them; 0: none.
    tone_s : float
        Length of a steady tone at the signal's level after all that, for a meter; it is played,
        and not recorded. 0: none.
    watch : Watch or None
        What is played last while somebody presses or taps, as one more recording; None: nothing.
    """

    label: RunLabel
    signal: Signal
    takes: int = 2
    silence_s: float = 0.0
    tone_s: float = 0.0
    watch: Watch | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """One recording as it left the rig.

    Parameters
    ----------
    kind : {"sweep", "silence", "presses", "tap"}
        What was played, or done.
    rate_hz : int
        Sample rate that the rig declares.
    samples : ndarray of float64, shape (n, channels), or None
        Fraction of full scale; None when `file` holds the recording.
    file : Path or None
        An existing file, to be kept byte for byte; None when `samples` holds it.
    expected_start : int or None
        Sample at which the take should begin, give or take the latency; None: not known.
    flags : tuple of str
        What the rig itself noticed, such as ``"input overflow at 3.1 s"``.
    watch : Watch or None
        What was played while somebody pressed or tapped; None for every other kind.
    """

    kind: RecordingKind
    rate_hz: int
    samples: F64 | None
    file: Path | None = None
    expected_start: int | None = None
    flags: tuple[str, ...] = ()
    watch: Watch | None = None


class Rig(Protocol):
    """Anything that can play a run and record it."""

    def facts(self) -> RigFacts:
        """Return what stands on the table."""
        ...

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play one run in one stream and hand over each recording as soon as it is complete."""
        ...
