"""What a build sheet promises: a small TOML file, read strictly, as a record."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from loopback.errors import ArgumentError
from loopback.quantity import parse_value

TOLERANCE = 0.1
"""Of a fitted resistor about which nothing else is said (common practice: 5 % parts, leakage)."""
MOST_BYTES = 64_000


@dataclass(frozen=True, slots=True)
class Expectation:
    """What is expected of one pedal in bypass; None: nothing is said about it.

    Parameters
    ----------
    true_bypass : bool or None
        Wiring alone, or not.
    allow_pulldown : bool
        True counts wiring with one plain resistor across it as true bypass too.
    buffered : bool or None
        Through a powered stage, or not.
    pulldown : float or None
        Resistance across the line, ohms, within `pulldown_tolerance`; of a stage, its input.
    pulldown_tolerance : float
        Relative.
    least_resistance : float or None
        Across the line, ohms; of a stage, its input.
    most_capacitance : float or None
        Across the line, farads; of a stage, its input.
    most_in_to_out : float or None
        In to out, ohms.
    passes_unpowered : bool or None
        In the bypass position.
    about : str
        Free text: which build sheet, which revision.
    """

    true_bypass: bool | None = None
    allow_pulldown: bool = False
    buffered: bool | None = None
    pulldown: float | None = None
    pulldown_tolerance: float = TOLERANCE
    least_resistance: float | None = None
    most_capacitance: float | None = None
    most_in_to_out: float | None = None
    passes_unpowered: bool | None = None
    about: str = ""


_SWITCHES = ("true_bypass", "allow_pulldown", "buffered", "passes_unpowered")
_VALUES = {
    "pulldown": "ohm",
    "pulldown_tolerance": "",
    "least_resistance": "ohm",
    "most_capacitance": "farad",
    "most_in_to_out": "ohm",
}
_BESIDE = ("allow_pulldown", "pulldown_tolerance", "about")
KEYS = tuple(f.name for f in fields(Expectation))


def parse_expectation(text: str, source: str) -> Expectation:
    """Read an expectation.

    Parameters
    ----------
    text : str
        TOML: ``true_bypass = true``, ``pulldown = "1M"``, ``most_capacitance = "30p"``.
    source : str
        What to call it in messages.

    Returns
    -------
    Expectation
        Values in base units.

    Raises
    ------
    ArgumentError
        If it is no TOML, has a key that is not known or a value of the wrong kind, or expects
        nothing.
    """
    try:
        table: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ArgumentError(
            f"{source} cannot be read: {error}.",
            "",
            'Write one expectation a line, such as: most_capacitance = "30p"',
        ) from error
    unknown = [key for key in table if key not in KEYS]
    if unknown:
        raise ArgumentError(
            f'{source} expects "{unknown[0]}", which is not known.',
            "",
            f"Known are: {', '.join(KEYS)}.",
        )
    values = {key: _value(key, value, source) for key, value in table.items()}
    if not any(key not in _BESIDE for key in values):
        raise ArgumentError(f"{source} expects nothing.", "", 'Write, for example: pulldown = "1M"')
    return Expectation(**values)


def read_expectation(path: Path) -> Expectation:
    """Read an expectation file.

    Parameters
    ----------
    path : Path
        Its place.

    Returns
    -------
    Expectation
        See `parse_expectation`.

    Raises
    ------
    ArgumentError
        If there is no such file, or it is not what `parse_expectation` takes.
    """
    try:
        data = path.read_bytes()
        text = data.decode("utf-8-sig")
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise ArgumentError(f"{path.name} cannot be read: {reason}.") from error
    except UnicodeDecodeError as error:
        raise ArgumentError(
            f"{path.name} is not text in UTF-8.", "", "Save it as UTF-8 and try again."
        ) from error
    if len(data) > MOST_BYTES:
        raise ArgumentError(f"{path.name} has {len(data)} bytes; no expectation is that long.")
    return parse_expectation(text, path.name)


def _value(key: str, value: object, source: str) -> Any:
    if key in _SWITCHES:
        if isinstance(value, bool):
            return value
        raise ArgumentError(
            f"{source}: {key} is {value!r}.", "", f"Write {key} = true, or {key} = false."
        )
    if key in _VALUES:
        return _number(key, value, source)
    if isinstance(value, str):
        return value
    raise ArgumentError(f"{source}: {key} is {value!r}.", "", "Write it in quotation marks.")


def _number(key: str, value: object, source: str) -> float:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ArgumentError(f"{source}: {key} is {value!r}.", "", f'Write it like {key} = "1M".')
    number = parse_value(str(value), _VALUES[key])
    if not 0 < number < float("inf"):
        raise ArgumentError(f"{source}: {key} is {value!r}.", "It has to be above zero.")
    if key == "pulldown_tolerance" and number >= 1:
        raise ArgumentError(
            f"{source}: {key} is {value!r}.", "It has to be below 100 %.", 'Write it like "5%".'
        )
    return number
