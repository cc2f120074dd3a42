"""A stand-in for the audio library: invented devices, and streams that loop output to input."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np

BLOCK = 2048


class PortAudioError(Exception):
    """As the library's own: text, code, and what the host said."""


@dataclass
class Library:
    """What the device rig asks of the library, with its troubles as fields.

    Parameters
    ----------
    host : str
        The only driver; its only device has two inputs and two outputs.
    refuse : callable
        Given the settings of a stream to be opened; returns the arguments of an error, or None.
    stop_after : int or None
        Blocks after which no more come, as when a cable is pulled.
    gain : float
        From output to input; 0: nothing but zeros.
    hangs : bool
        Whether a stream can be stopped at all.
    """

    host: str
    refuse: Callable[[dict[str, Any]], tuple[Any, ...] | None] = lambda _asked: None
    stop_after: int | None = None
    gain: float = 0.5
    hangs: bool = False
    opened: list[dict[str, Any]] = field(default_factory=list)
    released: threading.Event = field(default_factory=threading.Event)

    PortAudioError = PortAudioError
    _initialized = 1

    def query_hostapis(self) -> tuple[dict[str, Any], ...]:
        """Return the one driver."""
        return ({"name": self.host, "devices": [0]},)

    def query_devices(self) -> list[dict[str, Any]]:
        """Return the one device."""
        device = {"name": "Analogue (Kestrel Two)", "hostapi": 0, "default_samplerate": 48e3}
        return [device | {"max_input_channels": 2, "max_output_channels": 2}]

    def check_input_settings(self, _device: int, channels: int, samplerate: int) -> None:
        """Refuse as opening would."""
        self._check({"samplerate": samplerate, "channels": channels, "extra_settings": None})

    check_output_settings = check_input_settings

    def _check(self, asked: dict[str, Any]) -> None:
        trouble = self.refuse(asked)
        if trouble is not None:
            raise PortAudioError(*trouble)

    def WasapiSettings(self, exclusive: bool) -> Any:
        """Return what was asked for."""
        return SimpleNamespace(exclusive=exclusive)

    def CoreAudioSettings(self, **asked: bool) -> Any:
        """Return what was asked for."""
        return SimpleNamespace(**asked)

    def Stream(self, **asked: Any) -> LoopedStream:
        """Open a stream, or refuse."""
        self._check(asked)
        self.opened.append(asked)
        return LoopedStream(self, asked)


class LoopedStream:
    """A stream with a thread of its own that calls back as fast as it can."""

    def __init__(self, library: Library, asked: dict[str, Any]) -> None:
        self._library, self._asked = library, asked
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self.active = False

    def start(self) -> None:
        """Begin to call back."""
        self.active = True
        self._thread.start()

    def _run(self) -> None:
        last = np.zeros((BLOCK, self._asked["channels"][0]), dtype=np.float32)
        blocks = 0
        while not self._ended.is_set() and blocks != self._library.stop_after:
            goes = np.empty((BLOCK, self._asked["channels"][1]), dtype=np.float32)
            self._asked["callback"](last, goes, BLOCK, None, None)
            last = np.float32(self._library.gain) * goes
            blocks += 1

    def abort(self) -> None:
        """Stop; never return where the library hangs (until the test lets it go)."""
        if self._library.hangs:
            self._library.released.wait()
        self._ended.set()
        self._thread.join()
        self.active = False

    def close(self) -> None:
        """Nothing more to do."""
