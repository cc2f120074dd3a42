"""Hashes of what is published: of a curve, of a document, and the seal over all of it."""

from __future__ import annotations

import hashlib

import msgspec
import numpy as np

from loopback.examination.document import encode_examination
from loopback.examination.records import Examination
from loopback.examination.shown import shown
from loopback.report.curve_columns import Columns
from loopback.report.plain_numbers import finite
from loopback.report.published_records import CurveHash, Publication

SKETCH_POINTS = 25


def sealed(publication: Publication) -> Publication:
    """Close a publication with the hash of all its contents.

    Parameters
    ----------
    publication : Publication
        Its own seal does not count.

    Returns
    -------
    Publication
        With its seal.
    """
    bare = msgspec.structs.replace(publication, seal="")
    seal = hashlib.sha256(msgspec.json.encode(bare, order="sorted")).hexdigest()
    return msgspec.structs.replace(publication, seal=seal)


def document_hash(document: Examination) -> str:
    """Hash an examination's document without its private note.

    Parameters
    ----------
    document : Examination
        Whole, or cut back to what it was.

    Returns
    -------
    str
        SHA-256 of what may be shown of it; the same before and after the note was taken out.
    """
    pedal = msgspec.structs.replace(document.pedal, private_note="")
    bare = shown(msgspec.structs.replace(document, pedal=pedal))
    return hashlib.sha256(encode_examination(bare)).hexdigest()


def curve_hash(name: str, columns: Columns) -> CurveHash:
    """Hash one curve, and keep a few of its points.

    Parameters
    ----------
    name : str
        What it is called.
    columns : dict
        Equally long columns.

    Returns
    -------
    CurveHash
        Little-endian 64-bit numbers, column by column after its heading, are what is hashed.
    """
    digest = hashlib.sha256()
    points = len(next(iter(columns.values())))
    places = np.unique(np.linspace(0, max(points - 1, 0), SKETCH_POINTS).astype(int))
    places = places[:points]
    sketch: dict[str, tuple[float | None, ...]] = {}
    for heading, column in columns.items():
        digest.update(heading.encode("utf-8") + b"\0")
        digest.update(np.ascontiguousarray(column, dtype="<f8").tobytes())
        sketch[heading] = tuple(finite(float(column[place])) for place in places)
    return CurveHash(name, points, digest.hexdigest(), sketch)
