"""What one stream plays and keeps: the takes of a run in a row, and where each of them lies.

No audio library here: blocks come in, blocks go out, and the flags of the moment are noted.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopback.rig.protocol import Recorded, RecordingKind, RunRequest
from loopback.signal.take import render_take
from loopback.signal.tone import meter_tone
from loopback.signal.watch import Watch, render_watch

F32 = NDArray[np.float32]

SETTLE_S = 0.5
"""Silence before the first take: converters wake up, and drivers flag their first blocks."""
GAP_S = 0.4
"""Silence after each take, kept with it: a take that comes back late is still whole."""


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of a stream that becomes one recording.

    Parameters
    ----------
    kind : {"sweep", "silence", "presses", "tap"}
        What was played or done in it.
    start, stop : int
        Samples from the start of the stream; `stop` is the first one after it.
    watch : Watch or None
        Of presses and taps.
    """

    kind: RecordingKind
    start: int
    stop: int
    watch: Watch | None = None


class Tape:
    """All that one stream plays, and what came back so far.

    The stream's thread calls `pass_block` only; everyone else reads.

    Parameters
    ----------
    request : RunRequest
        The run.
    sinks : sequence of int
        Output channels, from 0, that carry the signal; all others stay silent.
    sources : sequence of int
        Input channels, from 0, that are kept, in this order.
    """

    def __init__(
        self, request: RunRequest, sinks: Iterable[int] = (0,), sources: Iterable[int] = (0,)
    ) -> None:
        self.rate_hz = request.signal.rate_hz
        self.windows, self._played = _lay_out(request)
        self._sinks, self._sources = list(sinks), list(sources)
        self._kept: F32 = np.zeros((self._played.size, len(self._sources)), dtype=np.float32)
        self._flags: list[tuple[int, str]] = []
        self._heard = False
        self.at = 0

    @property
    def length(self) -> int:
        """Samples of the whole stream."""
        return int(self._played.size)

    @property
    def peak(self) -> float:
        """Largest sample that is played, fraction of full scale."""
        return float(np.max(np.abs(self._played), initial=0.0))

    @property
    def heard_anything(self) -> bool:
        """Whether any sample of any input was other than exactly zero."""
        return self._heard

    def pass_block(self, came: F32, goes: F32, flags: tuple[str, ...] = ()) -> None:
        """Keep a block of input and fill the block of output of the same length.

        Parameters
        ----------
        came, goes : ndarray of float32, shape (frames, channels)
            From the inputs; to the outputs, overwritten. After the end silence goes out.
        flags : tuple of str
            What the driver reports with this block.
        """
        start, stop = self.at, min(self.at + len(came), self.length)
        goes[:] = 0.0
        for channel in self._sinks:
            goes[: stop - start, channel] = self._played[start:stop]
        for column, channel in enumerate(self._sources):
            self._kept[start:stop, column] = came[: stop - start, channel]
        self._heard = self._heard or bool(came.any())
        self._flags.extend((start, flag) for flag in flags)
        self.at = stop

    def latest_peak(self) -> float:
        """Largest sample of the last tenth of a second, fraction of full scale."""
        at = self.at
        return float(np.max(np.abs(self._kept[max(0, at - self.rate_hz // 10) : at]), initial=0.0))

    def recorded(self, window: Window) -> Recorded:
        """Hand over one stretch, as far as it has been recorded.

        A driver reports a loss with the block after it, so a flag up to the end of the window
        belongs to it, and one in the silence before the first take to nothing.

        Parameters
        ----------
        window : Window
            One of `windows`.

        Returns
        -------
        Recorded
            With the flags in it, and how much is missing when it is not complete.
        """
        stop = min(window.stop, self.at)
        flags = [
            f"{flag} at {(at - window.start) / self.rate_hz:.1f} s"
            for at, flag in self._flags
            if window.start < at <= stop
        ]
        if stop < window.stop:
            flags.append(f"sound stopped at {(stop - window.start) / self.rate_hz:.1f} s")
        return Recorded(
            window.kind,
            self.rate_hz,
            self._kept[window.start : stop].astype(np.float64),
            expected_start=0 if window.kind == "sweep" else None,
            flags=tuple(flags),
            watch=window.watch,
        )


def _lay_out(request: RunRequest) -> tuple[tuple[Window, ...], F32]:
    """Place the takes, and the long silence after them, in one stream."""
    rate = request.signal.rate_hz
    take = render_take(request.signal)
    gap = round(GAP_S * rate)
    windows: list[Window] = []
    at = round(SETTLE_S * rate)
    for _ in range(request.takes):
        windows.append(Window("sweep", at, at + take.size + gap))
        at += take.size + gap
    if request.silence_s > 0:
        windows.append(Window("silence", at, at + round(request.silence_s * rate)))
        at = windows[-1].stop
    watched = np.zeros(0) if request.watch is None else render_watch(request.watch, rate)
    if request.watch is not None:
        stop = at + watched.size + gap
        windows.append(Window(request.watch.kind, at, stop, request.watch))
        at = stop
    tone = meter_tone(request.signal, request.tone_s)
    played = np.zeros(at + tone.size, dtype=np.float32)
    played[at:] = tone
    for window in windows:
        if window.kind == "sweep":
            played[window.start : window.start + take.size] = take
        elif window.watch is not None:
            played[window.start : window.start + watched.size] = watched
    return tuple(windows), played
