"""One short name for an examination that follows from its content, so that every copy has it."""

from __future__ import annotations

import hashlib

from loopback.examination.records import Examination

_DIGITS = 12


def identification(examination: Examination) -> str:
    """Name an examination by its day and by the hashes of its recordings.

    Parameters
    ----------
    examination : Examination
        The document.

    Returns
    -------
    str
        Such as ``20261125-3f9c2a71b05e``: another recording gives another name, another note does
        not.
    """
    told = [examination.created, *(r.sha256 for r in examination.recordings())]
    digest = hashlib.sha256("\n".join(told).encode()).hexdigest()
    day = "".join(filter(str.isdigit, examination.created[:10])) or "undated"
    return f"{day}-{digest[:_DIGITS]}"
