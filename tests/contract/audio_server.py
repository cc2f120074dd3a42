"""A real audio server without hardware, with a pedal in its path; and how to reach it."""

from __future__ import annotations

import ctypes
import itertools
import os
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

import numpy as np
import pytest

from loopback.rig.tape import Tape

PEDAL_PROCESS = Path(__file__).with_name("pedal_process.py")
READY_S = 20.0
NAMES = 6
"""JACK knows eight servers at a time and forgets a killed one only when its name comes again."""

# Looked up before any fork: a child may not allocate between fork and exec.
_PRCTL = ctypes.CDLL(None).prctl if sys.platform == "linux" else None


def _child_manners() -> Callable[[], None]:
    """Make what a child does first: end with the tests, and never fill the disk."""
    import resource  # not on Windows, where these tests are skipped, not broken

    def manners() -> None:
        if _PRCTL is not None:
            _PRCTL(1, signal.SIGKILL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (256 << 20, 256 << 20))

    return manners


def _own_name() -> tuple[str, int]:
    """Find a server name that nobody on this machine uses now; the open file keeps it ours."""
    import fcntl  # not on Windows

    for number in range(NAMES):
        name = f"loopback{number}"
        lock = os.open(Path(tempfile.gettempdir(), f"{name}.lock"), os.O_CREAT | os.O_WRONLY)
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(lock)
        else:
            return name, lock
    raise AssertionError(f"{NAMES} audio servers of these tests are running already")


class AudioServer:
    """A server of one rate with its pedal; a context manager that ends both."""

    def __init__(self, rate_hz: int, *, period: int = 1024, synchronous: bool = True) -> None:
        self.rate_hz = rate_hz
        self.name, self._lock = _own_name()
        self.environment = {
            **os.environ,
            "JACK_NO_START_SERVER": "1",
            "JACK_NO_AUDIO_RESERVATION": "1",
            "JACK_DEFAULT_SERVER": self.name,
        }
        driver = ["-d", "dummy", "-r", str(rate_hz), "-p", str(period), "-C", "0", "-P", "0"]
        mode = ["-S"] if synchronous else []
        command = ["jackd", "--no-realtime", "-n", self.name, "-p", "64", *mode, *driver]
        self._server = self._start(command)
        self._pedal = self._join(command)

    def _start(self, command: list[str], *, talk: bool = False) -> subprocess.Popen[str]:
        pipe = subprocess.PIPE if talk else subprocess.DEVNULL
        return subprocess.Popen(
            command,
            stdin=pipe,
            stdout=pipe,
            stderr=subprocess.DEVNULL,
            text=True,
            env=self.environment,
            preexec_fn=_child_manners(),
        )

    def _join(self, command: list[str]) -> subprocess.Popen[str]:
        """Start the pedal's process again until the server lets it in.

        A server whose name was just given up by another one may end at once; it is started again.
        """
        for _ in range(20):
            pedal = self._start([sys.executable, str(PEDAL_PROCESS), self.name], talk=True)
            assert pedal.stdin is not None
            assert pedal.stdout is not None
            if pedal.stdout.readline().startswith("ready"):
                return pedal
            pedal.stdin.close()
            pedal.stdout.close()
            pedal.wait(READY_S)
            if self._server.poll() is not None:
                self._server = self._start(command)
        raise AssertionError("the audio server did not start, or did not let the pedal in")

    def tell(self, *words: object) -> None:
        """Give the pedal a command and wait until it holds."""
        assert self._pedal.stdin is not None
        assert self._pedal.stdout is not None
        print(*words, file=self._pedal.stdin, flush=True)
        assert self._pedal.stdout.readline().strip() == "done"

    def use_filter(self, taps: np.ndarray, folder: Path) -> None:
        """Put an impulse response into the path."""
        file = folder / f"{uuid.uuid4().hex}.npy"
        np.save(file, taps)
        self.tell("filter", file)

    def kill(self) -> None:
        """End the server at once, as a crash would."""
        self._server.kill()
        self._server.wait(READY_S)

    def close(self) -> None:
        """End pedal and server, in this order."""
        if self._server.poll() is None and self._pedal.poll() is None:
            print("quit", file=self._pedal.stdin, flush=True)
            self._wait_or_kill(self._pedal)
        self._pedal.kill()
        self._server.terminate()
        for process in (self._pedal, self._server):
            self._wait_or_kill(process)
            for pipe in (process.stdin, process.stdout):
                if pipe is not None:
                    pipe.close()
        os.close(self._lock)

    @staticmethod
    def _wait_or_kill(process: subprocess.Popen[str]) -> None:
        try:
            process.wait(READY_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(READY_S)

    def __enter__(self) -> Self:
        """Nothing more to do: the server runs."""
        return self

    def __exit__(self, *_: object) -> None:
        """End both."""
        self.close()


@contextmanager
def reachable(server: AudioServer) -> Generator[None]:
    """Let this process's audio library see a server, and leave it before it ends."""
    import sounddevice

    with pytest.MonkeyPatch.context() as patch:
        for name in ("JACK_NO_START_SERVER", "JACK_NO_AUDIO_RESERVATION", "JACK_DEFAULT_SERVER"):
            patch.setenv(name, server.environment[name])
        sounddevice._terminate()
        sounddevice._initialize()
        try:
            yield
        finally:
            sounddevice._terminate()
    sounddevice._initialize()


def faster(server: AudioServer) -> Callable[[float, float], None]:
    """Make a progress callback that runs a stream as fast as the machine can.

    On only while the stream runs: closing a stream meanwhile would send the server into an
    endless loop.
    """

    def progress(done: float, _peak: float) -> None:
        if done in (0.0, 1.0):
            server.tell("freewheel", "on" if done == 0.0 else "off")

    return progress


def late_once(monkeypatch: pytest.MonkeyPatch, block: int, seconds: float) -> None:
    """Hold up the stream's own thread once, as a computer does that is too busy."""
    passed = Tape.pass_block
    count = itertools.count()

    def late(self: Tape, *arguments: Any) -> None:
        if next(count) == block:
            time.sleep(seconds)
        passed(self, *arguments)

    monkeypatch.setattr(Tape, "pass_block", late)
