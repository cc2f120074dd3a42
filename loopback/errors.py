"""Every error this package raises, as one tree.

::

    LoopbackError                     base: found, means, action
    ├── ArgumentError (ValueError)    a value given by the caller cannot be used
    │   └── NetlistError              a pedal file has a line that cannot be read
    ├── RecordingError                a file holds no audio that can be read
    ├── DocumentError                 a JSON document is not what its format says
    ├── FolderError (OSError)         an examination folder cannot be opened or written
    ├── PackageError                  a packed examination cannot be made, opened or trusted
    ├── RigError                      the interface (or what stands for it) cannot do the run
    │   └── InterruptedTakeError      sound stopped in mid take; what was recorded is carried along
    ├── MissingPartError (ImportError) a library or system part is not installed
    └── StoppedError                  the user stopped on the way; nothing recorded is lost

Poor data is not an error: it becomes a :class:`loopback.quality.finding.Finding` on the result.
"""

from __future__ import annotations


class LoopbackError(Exception):
    """Base of the tree; every message says what was found, what it means and the one thing to do.

    Parameters
    ----------
    found : str
        What was found, with the number.
    means : str
        What that means for the user.
    action : str
        The one thing to do now.
    """

    exit_status = 1

    def __init__(self, found: str, means: str = "", action: str = "") -> None:
        super().__init__(found, means, action)
        self.found = found
        self.means = means
        self.action = action

    def __str__(self) -> str:
        return " ".join(part for part in (self.found, self.means, self.action) if part)


class ArgumentError(LoopbackError, ValueError):
    """A value given by the caller cannot be used."""

    exit_status = 2


class NetlistError(ArgumentError):
    """A pedal file has a line that cannot be read; the message names file and line."""


class RecordingError(LoopbackError):
    """A file holds no audio that can be read."""


class DocumentError(LoopbackError):
    """A JSON document is not what its format says; the message names the path inside it."""


class FolderError(LoopbackError, OSError):
    """An examination folder cannot be opened or written."""


class PackageError(LoopbackError):
    """A packed examination cannot be made or opened, or holds what it must not."""


class RigError(LoopbackError):
    """The interface, or what stands for it, cannot do the run."""


class InterruptedTakeError(RigError):
    """Sound stopped in mid take; what was recorded until then has been kept."""


class MissingPartError(LoopbackError, ImportError):
    """A library or system part that is needed for this is not installed."""


class StoppedError(LoopbackError):
    """The user stopped on the way; what was recorded until then is kept."""

    exit_status = 130
