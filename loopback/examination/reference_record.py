"""What a setup showed of itself: what its own references showed, sitting by sitting.

It stands beside ``setup.toml`` as ``setup-references.json``: one entry per sitting, with what
differed between the references of that sitting. No samples and no responses are in it, so that a
year of sittings is a few kilobytes.

A new examination gets a copy as it is then. Analysis reads that copy and nothing outside the
folder, so that anybody who has the folder finds the same numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from loopback.errors import DocumentError
from loopback.examination.atomic import write_over

VERSION = 1
FILE_NAME = "setup-references.json"


class FeedSitting(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """References of one feed in one sitting.

    Attributes
    ----------
    feed : str
        ``"plain"`` or ``"resistor"``.
    places : list of int
        Where each stood in the order of all runs of the sitting.
    gain_db : list of float
        Level of each over their mean.
    shape_db : list of float
        The same of the level at 20 kHz against 1 kHz.
    c_farad : list of float
        Capacitance of each over their mean; empty for the plain feed, which does not show it.
    """

    feed: str
    places: list[int]
    gain_db: list[float]
    shape_db: list[float]
    c_farad: list[float] = []


class Sitting(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One sitting at a setup.

    Attributes
    ----------
    at : str
        When its first reference was recorded, ISO 8601: what tells it from any other sitting, also
        where references are shared between pedals.
    feeds : list of FeedSitting
        One for each feed with two references or more.
    """

    at: str
    feeds: list[FeedSitting]


class ReferenceRecord(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All sittings of a setup, oldest first.

    Attributes
    ----------
    version : int
        Of the format.
    sittings : list of Sitting
        As they were.
    """

    version: int = VERSION
    sittings: list[Sitting] = []


def read_reference_record(path: Path) -> ReferenceRecord:
    """Read the record of a setup.

    Parameters
    ----------
    path : Path
        The file; an absent one is an empty record.

    Returns
    -------
    ReferenceRecord
        All sittings.

    Raises
    ------
    DocumentError
        If the file is damaged, or newer than this program.
    """
    if not path.exists():
        return ReferenceRecord()
    try:
        record = msgspec.json.decode(path.read_bytes(), type=ReferenceRecord)
    except msgspec.DecodeError as error:
        raise DocumentError(
            f"{path.name}: {error}.",
            "The record of this setup's references cannot be read.",
            "Move it away; a new one begins with the next sitting.",
        ) from error
    if record.version > VERSION:
        raise DocumentError(
            f"{path.name} has version {record.version}; this program knows {VERSION}.",
            "It was written by a newer program.",
            "Update this one.",
        )
    return record


def add_sitting(path: Path, sitting: Sitting) -> ReferenceRecord:
    """Add a sitting to the record, atomically; one begun at the same time gives way to it.

    Parameters
    ----------
    path : Path
        The file; made if absent.
    sitting : Sitting
        The new one.

    Returns
    -------
    ReferenceRecord
        With the new one.

    Raises
    ------
    DocumentError
        If what is there is damaged, or newer than this program.
    FolderError
        If the disk refuses; what was there is untouched then.
    """
    record = ReferenceRecord(sittings=with_sitting(read_reference_record(path).sittings, sitting))
    write_record(path, record.sittings)
    return record


def with_sitting(sittings: Sequence[Sitting], sitting: Sitting) -> list[Sitting]:
    """Put a sitting last, in the place of one that began at the same time.

    Parameters
    ----------
    sittings : sequence of Sitting
        Earlier ones.
    sitting : Sitting
        The new one; without two references of a feed it says nothing, and is left out.

    Returns
    -------
    list of Sitting
        No reference counts twice.
    """
    others = [one for one in sittings if one.at != sitting.at]
    return [*others, sitting] if sitting.feeds else others


def write_record(path: Path, sittings: Sequence[Sitting]) -> None:
    """Write a record over what is there, atomically; without sittings nothing is written.

    Parameters
    ----------
    path : Path
        The file.
    sittings : sequence of Sitting
        All of them.

    Raises
    ------
    FolderError
        If the disk refuses; what was there is untouched then.
    """
    if sittings:
        data = msgspec.json.encode(ReferenceRecord(sittings=list(sittings)))
        write_over(path, [msgspec.json.format(data, indent=1)])
