"""Places of labels along one side: apart by the least amount that keeps their order."""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Move centres apart by the least amount that keeps their order and their sizes apart.

    Parameters
    ----------
    wanted : sequence of float
        Centres, rising.
    sizes : sequence of float
        How much room each needs.
    low, high : float
        Where all of them must lie whole; sizes shrink alike if there are too many.

    Returns
    -------
    list of float
        Rising centres: neighbours that would touch form groups, each centred on the mean of what
        its members wanted (pool adjacent violators; Barlow and others 1972).
    """
    if not wanted:
        return []
    room = sum(sizes)
    shrink = min(1.0, (high - low) / room) if room > 0 else 1.0
    before = []
    at = 0.0
    for size in sizes:
        before.append(at + shrink * size / 2)
        at += shrink * size
    groups: list[tuple[float, int]] = []
    for position, own in zip(wanted, before, strict=True):
        total, count = position - own, 1
        while groups and groups[-1][0] / groups[-1][1] >= total / count:
            earlier, members = groups.pop()
            total, count = total + earlier, count + members
        groups.append((total, count))
    top = max(low, high - at)
    starts = [min(max(total / count, low), top) for total, count in groups for _ in range(count)]
    return [start + own for start, own in zip(starts, before, strict=True)]
