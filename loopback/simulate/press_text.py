"""What a footswitch and a bad joint do, as lines of a pedal file: ``.press`` and ``.tap``."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.errors import ArgumentError
from loopback.quantity import parse_value


@dataclass(frozen=True, slots=True)
class PressModel:
    """What one press puts on the line; volts at the interface's input.

    Parameters
    ----------
    click : float
        Peak of an exponential click, volts.
    decay : float
        Its time constant, seconds.
    step : float
        DC step, volts.
    tail : float
        Time constant with which the step itself decays, seconds; 0: it stays.
    leak, charge : float
        A further step that grows with the rest before the press, as of a leaking capacitor:
        volts after a long rest, and time constant in seconds.
    scatter : float
        Standard deviation of click and step from press to press, relative.
    gap : float
        Seconds during which neither path is connected.
    bounces : float
        How often the contact opens again after it has closed.
    bounce : float
        Length of each such opening, and of the closing before it, seconds.
    overlap : float
        Seconds during which both paths are connected.
    mute : float
        Seconds during which a relay's mute shorts the line, from the press on.
    """

    click: float = 0.0
    decay: float = 1e-3
    step: float = 0.0
    tail: float = 0.0
    leak: float = 0.0
    charge: float = 1.0
    scatter: float = 0.0
    gap: float = 2e-3
    bounces: float = 0.0
    bounce: float = 1.2e-3
    overlap: float = 0.0
    mute: float = 0.0


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint that lets go for a moment when it is tapped.

    Parameters
    ----------
    at : float
        Seconds after the watching begins.
    ohm : float
        Resistance in the line meanwhile; a broken contact is about 1 GΩ.
    lasts : float
        Seconds.
    """

    at: float
    ohm: float
    lasts: float


_SIGNED = {"click", "step", "leak"}
_ABOVE_ZERO = {"decay", "charge", "bounce"}
_JOINT = ("at", "ohm", "lasts")


def read_press(text: str) -> tuple[str, PressModel]:
    """Read what stands behind ``.press``: ``lit`` or ``dark``, then words and values in turn.

    Parameters
    ----------
    text : str
        Such as ``lit click 3m decay 2m gap 4m``; words are the fields of `PressModel`.

    Returns
    -------
    direction : {"lit", "dark"}
        Towards the effect, or towards bypass.
    model : PressModel
        What is not named has its default.

    Raises
    ------
    ArgumentError
        If it cannot be read.
    """
    words = text.split()
    if not words or words[0] not in ("lit", "dark"):
        raise ArgumentError(
            ".press needs a direction.",
            "lit: towards the effect; dark: towards bypass.",
            "Write: .press lit click 3m decay 2m gap 4m",
        )
    values = _pairs(words[1:], tuple(PressModel.__slots__), ".press")
    for name, value in values.items():
        if (value < 0 and name not in _SIGNED) or (value == 0 and name in _ABOVE_ZERO):
            raise ArgumentError(f".press: {name} is {value:g}.", "That cannot be.")
    return words[0], PressModel(**values)


def read_joint(text: str) -> Joint:
    """Read what stands behind ``.tap``.

    Parameters
    ----------
    text : str
        Such as ``at 2.5 ohm 20k lasts 30m``.

    Returns
    -------
    Joint
        One drop-out.

    Raises
    ------
    ArgumentError
        If it cannot be read, or a value is missing or not above zero.
    """
    values = _pairs(text.split(), _JOINT, ".tap")
    missing = [name for name in _JOINT if not values.get(name, 0.0) > 0]
    if missing:
        raise ArgumentError(
            f".tap needs {' and '.join(missing)}, above zero.",
            "",
            "Write: .tap at 2.5 ohm 20k lasts 30m",
        )
    return Joint(**values)


def _pairs(words: list[str], known: tuple[str, ...], directive: str) -> dict[str, float]:
    if len(words) % 2:
        raise ArgumentError(f'{directive}: "{words[-1]}" has no value.')
    values: dict[str, float] = {}
    for name, value in zip(words[::2], words[1::2], strict=True):
        if name not in known or name in values:
            raise ArgumentError(
                f'{directive}: "{name}" is not known, or stands twice.',
                "",
                f"Words are: {', '.join(known)}.",
            )
        values[name] = parse_value(value)
    return values
