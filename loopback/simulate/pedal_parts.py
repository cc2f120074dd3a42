"""A pedal file as read: the parts of its text, not yet a circuit."""

from __future__ import annotations

from dataclasses import dataclass, field

from loopback.errors import NetlistError
from loopback.simulate.press_text import Joint, PressModel
from loopback.simulate.state_sound import SoundText


@dataclass(slots=True)
class StateText:
    """One state as it stands in the file.

    Parameters
    ----------
    line : int
        Line number of its ``.state``.
    elements : list of (int, str)
        Line numbers and texts of its elements.
    numbers : dict of str to float
        Directives ``softclip`` (V), ``delay`` (s), ``band`` (Hz) and ``noise`` (V/√Hz).
    unpowered : str
        State that this one becomes where the table says ``last``; empty: stays the same.
    sound : SoundText
        What it adds and bends.
    """

    line: int
    elements: list[tuple[int, str]] = field(default_factory=list)
    numbers: dict[str, float] = field(default_factory=dict)
    unpowered: str = ""
    sound: SoundText = field(default_factory=SoundText)


@dataclass(slots=True)
class PedalText:
    """A whole pedal file, read and checked line by line.

    Parameters
    ----------
    words : dict of str to str
        ``title``, ``about``, ``family``, ``footswitch`` and ``bypass``.
    common : list of (int, str)
        Element lines common to all states.
    states : dict of str to StateText
        States by name, in the order of the file.
    table : dict of (str, str) to str
        State name, or ``last``, by power and position.
    presses, joints : dict of str to PressModel, list of Joint
        What the footswitch does in either direction, and which joints let go.
    """

    words: dict[str, str] = field(default_factory=dict)
    common: list[tuple[int, str]] = field(default_factory=list)
    states: dict[str, StateText] = field(default_factory=dict)
    table: dict[tuple[str, str], str] = field(default_factory=dict)
    presses: dict[str, PressModel] = field(default_factory=dict)
    joints: list[Joint] = field(default_factory=list)


def decode(content: bytes, source: str) -> str:
    """Read the bytes of a pedal file.

    Parameters
    ----------
    content : bytes
        Of the file.
    source : str
        Its name, for messages.

    Returns
    -------
    str
        Its text, without a byte order mark.

    Raises
    ------
    NetlistError
        If it is not UTF-8.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise NetlistError(
            f"{source}, line {line}: byte {error.start} is not UTF-8 text.",
            "",
            "Save the file as plain UTF-8 text.",
        ) from error
