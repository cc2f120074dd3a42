"""What the file itself says, before its samples: whether it was cut short."""

from __future__ import annotations

from loopback.examination.wav import Header
from loopback.quality.finding import Finding


def judge_header(header: Header, where: str) -> tuple[Finding, ...]:
    """Compare what a file promises with what it holds.

    Parameters
    ----------
    header : Header
        Of the file.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``file_cut``.
    """
    promised, held = header.declared_frames, header.frames
    if promised is None or held is None or promised <= held:
        return ()
    return (
        Finding(
            "file_cut",
            "look",
            f"{held} of {promised} samples",
            "The file is shorter than its own header says: a copy was broken off, or the recorder"
            " stopped.",
            "Copy it again from the recorder.",
            where,
        ),
    )
