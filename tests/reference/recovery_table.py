"""Truth against what was found, over many seeds: counted, and written as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.quantity import Estimate


@dataclass(frozen=True)
class Recovered:
    """One measure over many seeds."""

    measure: str
    truths: tuple[float, ...]
    found: tuple[Estimate, ...]

    @property
    def coverage(self) -> float:
        """Share of the 95 % intervals that hold the truth."""
        return float(np.mean([_holds(e, t) for e, t in zip(self.found, self.truths, strict=True)]))

    @property
    def honesty(self) -> float:
        """Scatter of the errors over the mean stated standard uncertainty."""
        errors = [e.value - t for e, t in zip(self.found, self.truths, strict=True)]
        stated = math.sqrt(float(np.mean([e.u**2 for e in self.found])))
        return float(np.std(errors)) / stated

    @property
    def bias_in_u(self) -> float:
        """Mean error over the mean stated standard uncertainty."""
        errors = [e.value - t for e, t in zip(self.found, self.truths, strict=True)]
        return float(np.mean(errors)) / float(np.mean([e.u for e in self.found]))


def recovered(measure: str, truths: Sequence[float], found: Sequence[Estimate]) -> Recovered:
    """Collect one measure."""
    return Recovered(measure, tuple(map(float, truths)), tuple(found))


def table_of(rows: Sequence[Recovered]) -> str:
    """Truth and finding of the first seed, and how many intervals of all hold the truth."""
    lines = [f"{'measure':<30}{'truth':>12}{'found':>12}{'95 % interval':>26}  {'covers':>7}"]
    for row in rows:
        first = row.found[0]
        low, high = first.interval()
        lines.append(
            f"{row.measure:<30}{row.truths[0]:>12.5g}{first.value:>12.5g}"
            f"{f'{low:.5g} ... {high:.5g}':>26}  {row.coverage:>6.1%}  {first.unit}"
        )
    return "\n".join(lines)


def _holds(estimate: Estimate, truth: float) -> bool:
    low, high = estimate.interval()
    return low <= truth <= high
