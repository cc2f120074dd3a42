"""The audio device as a rig; the only place that meets the audio library.

One full-duplex stream carries all takes of a run. Samples are float32 on every driver: that holds
all 24 bits of a converter exactly, with the library's clipping and dither switched off. (16-bit
streams were up to two steps off, and dithered.) The stream's own thread only copies blocks.
"""

from __future__ import annotations

import atexit
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from loopback.errors import ArgumentError, InterruptedTakeError, MissingPartError, RigError
from loopback.rig.device_settings import DeviceSettings, access_sentence, choose_route
from loopback.rig.hosts import ASIO, CORE_AUDIO, WASAPI, Box, DriverEntry, choose_box, list_boxes
from loopback.rig.leaving import end_stream, is_lost, spare_the_exit
from loopback.rig.protocol import Recorded, RigFacts, RunRequest
from loopback.rig.tape import F32, Tape
from loopback.rig.translate import nothing_but_zeros, translate

RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
Progress = Callable[[float, float], None]
"""Called while a run plays: part done from 0 to 1, and the latest input peak (full scale is 1)."""

_FLAGS = ("input_overflow", "input_underflow", "output_overflow", "output_underflow")
_LOOK_S = 0.02


@cache
def _loaded() -> Any:
    """Load the audio library, once."""
    try:
        import sounddevice
    except (OSError, ImportError) as error:
        raise MissingPartError(
            f'The audio library could not be loaded: "{error}".',
            "Nothing can be played or recorded on this computer yet.",
            "Debian and Ubuntu: sudo apt install libportaudio2. Other systems: install this"
            " program again with its requirements.",
        ) from error
    atexit.register(spare_the_exit, sounddevice)
    return sounddevice


def _library() -> Any:
    """Give the audio library, as long as it can be used."""
    library = _loaded()
    if is_lost():
        raise RigError(
            "The audio server or the interface has gone while it was in use.",
            "The audio library cannot recover from that.",
            "Start again.",
        )
    return library


@contextmanager
def _translated(doing: str) -> Iterator[Any]:
    """Give the library, and turn its errors into ours."""
    library = _library()
    try:
        yield library
    except library.PortAudioError as error:
        code = next((a for a in error.args[1:] if isinstance(a, int)), None)
        host = error.args[2] if len(error.args) > 2 else ()
        words = [str(error.args[0]) if error.args else "no reason given", *map(str, host[1:])]
        raise translate(code, ", ".join(words), doing) from error
    except (ValueError, OSError) as error:
        raise translate(None, str(error), doing) from error


def find_boxes() -> tuple[Box, ...]:
    """List the interfaces of this computer, as the library saw them when it was loaded.

    Returns
    -------
    tuple of Box
        See `loopback.rig.hosts.list_boxes`.

    Raises
    ------
    MissingPartError
        If there is no audio library.
    RigError
        If the library fails, or has lost its server for good.
    """
    with _translated("Listing the interfaces") as library:
        hosts = [host["name"] for host in library.query_hostapis()]
        devices = library.query_devices()
    return list_boxes(
        DriverEntry(
            index=index,
            name=device["name"],
            host=hosts[device["hostapi"]],
            inputs=device["max_input_channels"],
            outputs=device["max_output_channels"],
            rate_hz=device["default_samplerate"],
        )
        for index, device in enumerate(devices)
    )


class DeviceRig:
    """An audio interface as a rig.

    Parameters
    ----------
    settings : DeviceSettings
        Which interface and sockets.
    progress : callable or None
        See `Progress`; called from the thread that iterates over `play`, first with 0 once the
        stream runs, last with 1 before it ends.
    """

    def __init__(self, settings: DeviceSettings, progress: Progress | None = None) -> None:
        self.settings = settings
        self._progress = progress or (lambda _done, _peak: None)
        self.box = choose_box(find_boxes(), settings.device)
        self.route = choose_route(self.box, settings)
        self.access = access_sentence(self.route.host, exclusive=settings.exclusive)

    def facts(self) -> RigFacts:
        """Return what stands on the table."""
        check = None if self.settings.check_input is None else 1
        return RigFacts("device", self.box.name, 0, check, self.settings.full_scale_dbu)

    def rates(self) -> tuple[int, ...]:
        """Return the sample rates of `RATES_HZ` at which this interface can be opened now."""
        library = _library()

        def runs(rate_hz: int) -> bool:
            try:
                library.check_input_settings(
                    self.route.source.index, channels=1, samplerate=rate_hz
                )
                library.check_output_settings(self.route.sink.index, channels=1, samplerate=rate_hz)
            except (library.PortAudioError, ValueError):
                return False
            return True

        return tuple(rate_hz for rate_hz in RATES_HZ if runs(rate_hz))

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play one run in one stream and hand over each recording as soon as it is complete.

        Parameters
        ----------
        request : RunRequest
            What to play.

        Yields
        ------
        Recorded
            Channel 0 is the pedal path, channel 1 the check cable where there is one. When the
            sound stops in mid take, what there is of it comes last, flagged.

        Raises
        ------
        ArgumentError
            If the signal is louder than the ceiling.
        InterruptedTakeError
            If the sound stopped: server or interface gone.
        RigError
            If the interface cannot be opened, or delivers nothing but zeros.
        """
        s = self.settings
        sinks = [n - 1 for n in (s.output, s.check_output) if n is not None]
        sources = [n - 1 for n in (s.input, s.check_input) if n is not None]
        tape = Tape(request, sinks, sources)
        if tape.peak > 10.0 ** (s.ceiling_dbfs / 20) * (1 + 1e-6):
            raise ArgumentError(
                f"A level of {request.signal.level_dbfs:g} dBFS is above the ceiling of"
                f" {s.ceiling_dbfs:g} dBFS.",
                "Nothing was played.",
                "Lower the level, or raise the ceiling knowingly.",
            )
        stream = self._open(tape, 1 + max(sources), 1 + max(sinks))
        stands_still = False
        try:
            self._progress(0.0, 0.0)
            for window in tape.windows:
                stands_still = not self._reached(window.stop, tape, stream)
                if stands_still:
                    if tape.at > window.start:
                        yield tape.recorded(window)
                    raise self._stopped(tape)
                yield tape.recorded(window)
                if not tape.heard_anything:
                    raise nothing_but_zeros(self.box.name)
            if not self._reached(tape.length, tape, stream):
                raise self._stopped(tape)
            self._progress(1.0, 0.0)
        finally:
            # ASIO drivers want the thread that opened them.
            end_stream(stream, same_thread=self.route.host == ASIO and not stands_still)

    def _stopped(self, tape: Tape) -> InterruptedTakeError:
        return InterruptedTakeError(
            f"The sound stopped {tape.at / tape.rate_hz:.1f} s into the run.",
            f"{self.box.name} or its server has gone; what was recorded is kept.",
            "Plug the interface in (or start the server), then start again: the"
            " same command goes on where it stopped.",
        )

    def _open(self, tape: Tape, inputs: int, outputs: int) -> Any:
        """Open and start the stream; exclusive access first where there is such a thing."""
        rate_hz, route = tape.rate_hz, self.route
        # Exclusive modes know the interface's own channel count only, and that is rarely one.
        channels = (
            min(max(inputs, 2), route.source.inputs),
            min(max(outputs, 2), route.sink.outputs),
        )
        attempts = [True, False] if route.host == WASAPI and self.settings.exclusive else [False]
        for exclusive in attempts:
            try:
                with _translated(f"Opening {self.box.name} at {rate_hz} Hz") as library:
                    stream = library.Stream(
                        samplerate=rate_hz,
                        device=(route.source.index, route.sink.index),
                        channels=channels,
                        dtype="float32",
                        latency="high",
                        extra_settings=_host_settings(library, route.host, exclusive=exclusive),
                        callback=_callback(tape),
                        clip_off=True,
                        dither_off=True,
                    )
                    stream.start()
            except RigError as error:
                if exclusive:
                    continue
                possible = self.rates()
                if not possible or rate_hz in possible:
                    raise
                listed = ", ".join(f"{rate / 1000:g}k" for rate in possible)
                action = f"Use --rate with one of: {listed}."
                raise RigError(error.found, error.means, action) from error
            self.access = access_sentence(route.host, exclusive=exclusive)
            return stream
        raise AssertionError("the last attempt returns or raises")

    def _reached(self, sample: int, tape: Tape, stream: Any) -> bool:
        """Wait until the stream has passed a sample; False when it stands still."""
        seen, since = tape.at, time.monotonic()
        while tape.at < sample:
            time.sleep(_LOOK_S)
            now = time.monotonic()
            if seen < tape.at < tape.length:  # the last call, with 1, is made by `play`
                self._progress(tape.at / tape.length, tape.latest_peak())
            if tape.at != seen:
                seen, since = tape.at, now
            elif now - since > (self.settings.patience_s if stream.active else _LOOK_S):
                return False
        return True


def _host_settings(library: Any, host: str, *, exclusive: bool) -> Any:
    if host == WASAPI:
        return library.WasapiSettings(exclusive=exclusive)
    if host == CORE_AUDIO:  # set the interface to our rate instead of converting to its own
        return library.CoreAudioSettings(
            change_device_parameters=True, fail_if_conversion_required=True
        )
    return None


def _callback(tape: Tape) -> Callable[[F32, F32, int, Any, Any], None]:
    def copy(came: F32, goes: F32, _frames: int, _times: Any, status: Any) -> None:
        flags = tuple(f.replace("_", " ") for f in _FLAGS if status and getattr(status, f))
        tape.pass_block(came, goes, flags)

    return copy
