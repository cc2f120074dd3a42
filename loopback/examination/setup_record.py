"""``setup.toml``: interface, sockets, level and resistor, as text to be read and edited."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Mapping
from itertools import count
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import msgspec

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.atomic import write_new
from loopback.plan.runs import ResistorEnd

SETUP_FILE = "setup.toml"

_HEAD = """\
# Written by: loopback setup    Read by: loopback measure
# Everything here may be edited; levels are never raised by the program itself.
# A line that begins with # is not read; missing lines mean: not known, or none.
"""
_GROUPS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Interface",
        (
            ("device", "words of its name, or its number in the list"),
            ("driver", "part of the driver's name; empty: the best one"),
            ("rate_hz", "sample rate"),
            ("output", "socket of the feeding lead, as printed on the box"),
            ("input", "socket of the return lead"),
            ("check_output", "check cable: a spare output ..."),
            ("check_input", "... joined to a spare input"),
        ),
    ),
    (
        "Level",
        (
            ("level_dbfs", "peak of what is played"),
            ("ceiling_dbfs", "nothing is ever played above this"),
            ("sweep_s", "length of each sweep, seconds"),
            ("full_scale_dbu", "level of a full-scale sine at the input, from a meter reading"),
        ),
    ),
    (
        "Resistor lead",
        (
            ("resistor_ohm", "its value is the standard of every result"),
            ("resistor_tolerance", "0.01 is 1 %"),
            ("resistor_end", "where the resistor sits: pedal or interface end of the lead"),
        ),
    ),
    (
        "Found",
        (
            ("node_farad", "setup capacitance: return lead and input"),
            ("input_ohm", "input resistance"),
            ("floor_dbfs_a", "noise with nothing plugged in, A-weighted"),
            ("leak_db", "what leaks from output to input, at most, against the cable"),
            ("mains_hz", "mains frequency heard"),
            ("made", "when"),
            ("recordings", "folder of the recordings behind these figures"),
        ),
    ),
)


class SetupRecord(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What `setup` found out and the user confirmed.

    Attributes
    ----------
    device, driver : str
        Which interface and driver.
    rate_hz : int
        Sample rate.
    output, input : int
        Sockets of the pedal path, from 1.
    check_output, check_input : int or None
        Sockets of the check cable; None: there is none.
    level_dbfs, ceiling_dbfs : float
        Peak of what is played, and what it may never exceed.
    sweep_s : float
        Length of each sweep.
    full_scale_dbu : float or None
        Of the input; None: everything stays relative.
    resistor_ohm, resistor_tolerance : float or None
        None: there is no resistor lead.
    resistor_end : {"pedal", "interface"}
        Where it sits.
    node_farad, input_ohm : float or None
        Setup capacitance and input resistance as found.
    floor_dbfs_a, leak_db : float or None
        Noise with nothing plugged in, and what leaks across at most.
    mains_hz : float or None
        50, 60, or not heard.
    made : str
        ISO 8601.
    recordings : str
        Folder beside this file.
    """

    device: str
    driver: str = ""
    rate_hz: int
    output: int = 1
    input: int = 1
    check_output: int | None = None
    check_input: int | None = None
    level_dbfs: float
    ceiling_dbfs: float
    sweep_s: float = 4.0
    full_scale_dbu: float | None = None
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    resistor_end: ResistorEnd = "pedal"
    node_farad: float | None = None
    input_ohm: float | None = None
    floor_dbfs_a: float | None = None
    leak_db: float | None = None
    mains_hz: float | None = None
    made: str = ""
    recordings: str = ""


def encode_setup(record: SetupRecord, remarks: Mapping[str, str] = MappingProxyType({})) -> str:
    """Write a setup as TOML with a comment on every line.

    Parameters
    ----------
    record : SetupRecord
        What was found.
    remarks : mapping of str to str
        Comments in the place of the usual ones, by field: where a value is from.

    Returns
    -------
    str
        Text that `decode_setup` reads back to an equal record.

    Raises
    ------
    ArgumentError
        If a number is infinite or no number.
    """
    values = msgspec.structs.asdict(record)
    lines = [_HEAD.rstrip()]
    for title, fields in _GROUPS:
        lines += ["", f"# {title}"]
        for name, comment in fields:
            value = values.pop(name)
            shown = f"# {name} =" if value is None else f"{name} = {_toml(name, value)}"
            lines.append(f"{shown:<34}  # {remarks.get(name, comment)}")
    if values:
        raise AssertionError(f"fields without a comment: {sorted(values)}")
    return "\n".join(lines) + "\n"


def decode_setup(text: str, name: str = SETUP_FILE) -> SetupRecord:
    """Read a setup.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Of the file, for messages.

    Returns
    -------
    SetupRecord
        Checked.

    Raises
    ------
    DocumentError
        If it is no TOML, a word is not known, or a value cannot be.
    """
    try:
        found = tomllib.loads(text)
        record = msgspec.convert(found, SetupRecord)
    except tomllib.TOMLDecodeError as error:
        raise DocumentError(
            f'"{name}" cannot be read: {error}.',
            "A quote or a number in that line is not complete.",
            "Mend that line, or write the file anew with: loopback setup",
        ) from error
    except msgspec.ValidationError as error:
        raise DocumentError(
            f'"{name}" has a value that cannot be: {error}.',
            "",
            "Mend that line, or write the file anew with: loopback setup",
        ) from error
    _check(record, name)
    return record


def read_setup(path: Path) -> SetupRecord:
    """Read a setup file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    SetupRecord
        Checked.

    Raises
    ------
    DocumentError
        See `decode_setup`; also if there is no such file.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise DocumentError(
            f'"{path}" cannot be read: {error}.', "", "Write it anew with: loopback setup"
        ) from error
    return decode_setup(text, path.name)


def write_setup(
    path: Path, record: SetupRecord, remarks: Mapping[str, str] = MappingProxyType({})
) -> Path | None:
    """Write a setup file; an earlier one gets another name and stays.

    Parameters
    ----------
    path : Path
        The file.
    record : SetupRecord
        What was found.
    remarks : mapping of str to str
        See `encode_setup`.

    Returns
    -------
    Path or None
        New name of the earlier one; None: there was none.

    Raises
    ------
    FolderError
        If the folder cannot be written to.
    ArgumentError
        If a number cannot be stored.
    """
    data = encode_setup(record, remarks).encode()
    if not path.exists():
        write_new(path, [data])
        return None
    names = (path.with_name(f"{path.stem}-before-{number}.toml") for number in count(1))
    earlier = next(name for name in names if not name.exists())
    path.rename(earlier)
    write_new(path, [data])
    return earlier


def _toml(name: str, value: object) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ArgumentError(f"{name} is {value!r}; that cannot be stored.")
        return repr(value)
    return str(value)


def _check(record: SetupRecord, name: str) -> None:
    wrong: Literal["", "level", "socket", "resistor"] = ""
    if record.level_dbfs > record.ceiling_dbfs:
        wrong = "level"
    elif min(record.output, record.input) < 1 or (record.check_output is None) != (
        record.check_input is None
    ):
        wrong = "socket"
    elif record.resistor_ohm is not None and not record.resistor_ohm > 0:
        wrong = "resistor"
    said = {
        "level": f"level_dbfs is {record.level_dbfs:g}, above the ceiling of"
        f" {record.ceiling_dbfs:g}",
        "socket": "sockets count from 1, and a check cable has two ends",
        "resistor": f"resistor_ohm is {record.resistor_ohm}",
    }
    if wrong:
        raise DocumentError(
            f'"{name}" cannot be used: {said[wrong]}.',
            "",
            "Mend that line, or write the file anew with: loopback setup",
        )
