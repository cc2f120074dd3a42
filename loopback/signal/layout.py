"""Where everything lies in one take: segments and check tones, in samples from its start."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

SegmentName = Literal[
    "lead", "tones_before", "up", "rest", "tones_between", "down", "tail", "tones_after", "end"
]


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of a take.

    Parameters
    ----------
    name : str
        Which one, see `SegmentName`.
    start, length : int
        Samples; `start` counts from the start of the take.
    """

    name: SegmentName
    start: int
    length: int

    @property
    def stop(self) -> int:
        """First sample after the segment."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class Tone:
    """One check tone: a sine starting at phase zero, with raised-cosine ends.

    Parameters
    ----------
    block : {"tones_before", "tones_between", "tones_after"}
        The segment it lies in.
    f_hz, level_dbfs : float
        Frequency and peak level.
    start, length, fade : int
        Samples; `start` counts from the start of the take, `fade` is the length of each end.
    """

    block: Literal["tones_before", "tones_between", "tones_after"]
    f_hz: float
    level_dbfs: float
    start: int
    length: int
    fade: int


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything lies in one take.

    Parameters
    ----------
    segments : tuple of Segment
        Without a gap, in order.
    tones : tuple of Tone
        In order.
    length : int
        Samples of the whole take.
    """

    segments: tuple[Segment, ...]
    tones: tuple[Tone, ...]
    length: int

    def segment(self, name: SegmentName) -> Segment:
        """Return the segment of that name."""
        return next(s for s in self.segments if s.name == name)
