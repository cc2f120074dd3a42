"""Ending a stream and the program, whatever has become of the interface or its server.

When a server dies under an open stream, stopping and closing that stream may never return, and the
audio library's clean-up at exit hangs or ends the program with status 134. (Seen with PortAudio 19
and a JACK server that was killed.)
"""

from __future__ import annotations

from contextlib import suppress
from threading import Event, Thread
from typing import Any

from loopback.rig.hosts import JACK

_END_S = 2.0
_lost = Event()


def is_lost() -> bool:
    """Tell whether a stream could not be ended: the library is of no more use in this process.

    Returns
    -------
    bool
        True from then on.
    """
    return _lost.is_set()


def end_stream(stream: Any, *, same_thread: bool = False) -> None:
    """Stop and close a stream, in a thread of its own, since that may never return.

    Parameters
    ----------
    stream : sounddevice.Stream
        Running, or standing still.
    same_thread : bool
        Do it in this thread; only for a stream that runs, on a driver that is particular about it.
    """

    def close() -> None:
        with suppress(Exception):  # whatever went wrong has been said before
            stream.abort()
            stream.close()

    if same_thread:
        close()
        return
    thread = Thread(target=close, daemon=True)
    thread.start()
    thread.join(_END_S)
    if thread.is_alive():
        _lost.set()


def spare_the_exit(library: Any) -> None:
    """Leave the last clean-up to the system where the library's own would not survive it.

    While a JACK server is there, the clean-up is needed: its threads run on.

    Parameters
    ----------
    library : module
        The loaded audio library.
    """
    if is_lost() or not _server_answers(library):
        library._initialized = 0


def _server_answers(library: Any) -> bool:
    """Tell whether streams can be opened on the JACK server; true where there never was one."""
    jack = next((host for host in library.query_hostapis() if host["name"] == JACK), None)
    if jack is None or not jack["devices"]:
        return True
    try:
        library.OutputStream(device=jack["devices"][0], channels=1).close()
    except library.PortAudioError:
        return False
    return True
