"""Single keys from a terminal, without waiting for Enter."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

NextKey = Callable[[float], str]
"""Waits up to so many seconds for a key, in small letters; Enter is a line feed, no key ``""``."""


@contextmanager
def single_keys(wanted: bool) -> Iterator[NextKey]:
    """Make keys readable one by one while the block runs.

    Parameters
    ----------
    wanted : bool
        False: no key ever comes, and nothing waits.

    Yields
    ------
    callable
        See `NextKey`.
    """
    if not wanted:
        yield lambda _seconds: ""
    elif sys.platform == "win32":
        yield _windows_key
    else:
        import termios
        import tty

        descriptor = sys.stdin.fileno()
        before = termios.tcgetattr(descriptor)
        try:
            tty.setcbreak(descriptor)
            yield _posix_key
        finally:
            termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


def _posix_key(seconds: float) -> str:
    import os
    import select

    ready, _, _ = select.select([sys.stdin], [], [], seconds)
    if not ready:
        return ""
    return os.read(sys.stdin.fileno(), 1).decode("ascii", "ignore").lower().replace("\r", "\n")


def _windows_key(seconds: float) -> str:
    import importlib
    import time

    console = importlib.import_module("msvcrt")
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if console.kbhit():
            return str(console.getwch()).lower().replace("\r", "\n")
        time.sleep(0.02)
    return ""
