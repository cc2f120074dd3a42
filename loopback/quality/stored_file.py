"""What files say before their samples: cut short, or lying in the folder without a run."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.examination.wav import Header
from loopback.quality.finding import Finding


def judge_header(header: Header, held: int, where: str) -> tuple[Finding, ...]:
    """Compare what a file promises with what it holds.

    Parameters
    ----------
    header : Header
        Of the file.
    held : int
        Samples per channel that could be read; a packed file tells no other way.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``file_cut``.
    """
    promised = header.declared_frames
    if promised is None or promised <= held:
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


def judge_strays(files: Sequence[str]) -> tuple[Finding, ...]:
    """Name complete recordings that no run lists, as a power failure leaves them.

    Parameters
    ----------
    files : sequence of str
        From `StoredExamination.strays`.

    Returns
    -------
    tuple of Finding
        Code ``not_listed``, one for all of them.
    """
    if not files:
        return ()
    return (
        Finding(
            "not_listed",
            "look",
            f"{len(files)} recording(s) without a run: {', '.join(files)}",
            "Writing was broken off after the sound was safe and before the run was noted.",
            "Add the file with `loopback add`, saying what was connected.",
        ),
    )
