"""Which channel of a file to read: the one that was named, if it is there, or the one heard."""

from __future__ import annotations

from loopback.arrays import F64
from loopback.examination.records import Recording
from loopback.quality.finding import Finding
from loopback.response.locate import best_channel
from loopback.signal.take import Signal


def choose_channels(
    samples: F64, recording: Recording, signal: Signal, where: str
) -> tuple[int, int | None, tuple[Finding, ...]]:
    """Choose the channels of pedal path and check cable.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels)
        The recording.
    recording : Recording
        What is known of it.
    signal : Signal
        What was played.
    where : str
        Run and take.

    Returns
    -------
    path_channel : int
        From 0.
    check_channel : int or None
        None when there is none.
    findings : tuple of Finding
        Codes ``channel_missing`` and ``channel_found``.
    """
    count = samples.shape[1]
    found: list[Finding] = []
    named = recording.path_channel
    if named is not None and named < count:
        path = named
    else:
        path = best_channel(samples, signal) if count > 1 and len(samples) else 0
        if named is not None:
            found.append(
                Finding(
                    "channel_missing",
                    "look",
                    f"{_channels(count)}, and the pedal was on channel {named + 1}",
                    f"Channel {path + 1} was read instead.",
                    "Record the channel that the return lead is plugged into.",
                    where,
                )
            )
        elif count > 1:
            found.append(
                Finding(
                    "channel_found",
                    "good",
                    f"{_channels(count)}, the signal is in channel {path + 1}",
                    "That one is used.",
                    "",
                    where,
                )
            )
    check = recording.check_channel
    if check is not None and check >= count:
        check = None
        found.append(
            Finding(
                "channel_missing",
                "look",
                f"{_channels(count)}, and none for the check cable",
                "Delay cannot be told in this run.",
                "Record both channels.",
                where,
            )
        )
    return path, check, tuple(found)


def _channels(count: int) -> str:
    return "1 channel" if count == 1 else f"{count} channels"
