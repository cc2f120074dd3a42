"""Published curves against recomputed ones: by hash, or by the points that were kept."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.proof.comparing import U_SHARE, Compared, Difference
from loopback.report.published_records import CurveHash

LEAST_SHARE = 1e-6
"""A point may move by this share of the largest in its column, on another kind of machine."""
_LEVEL, _HALF_WIDTH = "level (dB)", "half-width 95 % of this point (dB)"
_K95 = 1.96


def compare_curves(
    published: Sequence[CurveHash], found: Sequence[CurveHash], *, exact: bool
) -> Compared:
    """Compare all curves of a publication.

    Parameters
    ----------
    published, found : sequence of CurveHash
        Then and now.
    exact : bool
        True: all bytes. False: the points kept, a level within `U_SHARE` of its uncertainty,
        everything else within `LEAST_SHARE` of the largest in its column.

    Returns
    -------
    Compared
        One difference for each curve, with the point that is furthest off.
    """
    differences: list[Difference] = []
    within = 0
    now = {curve.name: curve for curve in found}
    then = {curve.name for curve in published}
    for curve in published:
        other = now.get(curve.name)
        where = f"curve {curve.name}"
        if other is None:
            differences.append(Difference(where, "gone", curve.points, None))
        elif other.sha256 == curve.sha256:
            continue
        elif worst := _worst(curve, other, exact=exact):
            heading, old, new = worst
            differences.append(Difference(f"{where}, {heading}", "number", old, new))
        elif exact:
            differences.append(
                Difference(f"{where}, SHA-256", "number", curve.sha256, other.sha256)
            )
        else:
            within += 1
    differences += [
        Difference(f"curve {curve.name}", "new", None, curve.points)
        for curve in found
        if curve.name not in then
    ]
    return Compared(len(published), tuple(differences), within)


def _worst(
    old: CurveHash, new: CurveHash, *, exact: bool
) -> tuple[str, float | None, float | None] | None:
    """Find the kept point that is furthest beyond its tolerance; None: no point is."""
    if old.points != new.points or old.sketch.keys() != new.sketch.keys():
        return "number of points", float(old.points), float(new.points)
    worst: tuple[float, str, float | None, float | None] | None = None
    for heading, column in old.sketch.items():
        largest = max((abs(value) for value in column if value is not None), default=0.0)
        widths = old.sketch.get(_HALF_WIDTH) if heading == _LEVEL else None
        for place, (a, b) in enumerate(zip(column, new.sketch[heading], strict=True)):
            if a == b:
                continue
            width = widths[place] if widths else None
            least = max(LEAST_SHARE * largest, U_SHARE * (width or 0.0) / _K95)
            if a is None or b is None:
                return heading, a, b
            off = abs(a - b) / (least or 1e-300)
            if (exact or off > 1) and (worst is None or off > worst[0]):
                worst = (off, heading, a, b)
    return worst[1:] if worst else None
