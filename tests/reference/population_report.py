"""Report of a population study: confusion, coverage, widths; text, and one plot."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tests.reference.population_study import (
    Row,
    confusion,
    coverage,
    figures,
    inseparable,
    pulls,
    wrong,
)


def write_report(rows: Sequence[Row], folder: Path | None) -> str:
    """Write the report as text; with a folder also to files, with a plot of the pulls."""
    pedals = len({r["index"] for r in rows})
    lines = [f"{len(rows)} examinations of {pedals} pedals", ""]
    for kind in sorted({r["kind"] for r in rows}):
        mine = [r for r in rows if r["kind"] == kind]
        lines.append(f"setup {kind}: {len(mine)} examinations; true path, then what was said")
        for true, said in confusion(mine).items():
            lines.append(f"  {true:10s} " + "  ".join(f"{k} {v}" for k, v in sorted(said.items())))
        for what in ("c", "g", "r"):
            found = coverage(mine, what)
            if found["n"]:
                lines.append(
                    f"  {what}: covered {100 * found['covered']:.1f} % of {found['n']},"
                    f" stated over warranted {found['stated_over_warranted']:.2f}"
                )
        lines.append("")
    lines.append("coverage by family, off by more than three standard errors:")
    for what in ("c", "g", "r"):
        for family, found in coverage(rows, what).get("families", {}).items():
            if abs(found["off_se"]) > 3:
                lines.append(f"  {what} {family}: {found}")
    lines += ["", "wrong statements:"]
    lines += [
        f"  {r['index']} {r['kind']} {r['family']}: {r['truth']} called {r['path']}"
        for r in rows
        if wrong(r)
    ]
    lines += ["", "left open on the standard plan without need:"]
    lines += [
        f"  {r['index']} {r['kind']} {r['family']} ({r['truth']}): {r['alternatives']}"
        for r in rows
        if r["kind"].startswith("standard") and r["path"] == "undecided" and not inseparable(r)
    ][:60]
    lines += ["", json.dumps(figures(rows), indent=1)]
    text = "\n".join(lines)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "report.txt").write_text(text, encoding="utf-8")
        _plot(rows, folder / "pulls.png")
    return text


def _plot(rows: Sequence[Row], path: Path) -> None:
    """Error over stated uncertainty against the normal distribution it should follow."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from scipy import special

    figure = Figure(figsize=(9, 3.4), layout="constrained")
    FigureCanvasAgg(figure)
    names = {"c": "capacitance", "g": "conductance", "r": "in to out"}
    for axis, (what, name) in zip(figure.subplots(1, 3), names.items(), strict=True):
        found = np.sort([p for _, p, _ in pulls(rows, what)])
        if len(found):
            expected = special.ndtri((np.arange(len(found)) + 0.5) / len(found))
            axis.plot(expected, np.clip(found, -5, 5), ".", ms=2)
        axis.plot([-4, 4], [-4, 4], lw=0.8, color="0.4")
        axis.axhspan(-1.96, 1.96, color="0.9", zorder=0)
        axis.set(title=name, xlabel="normal quantile", ylim=(-5, 5), xlim=(-4, 4))
    figure.axes[0].set_ylabel("error / stated uncertainty")
    figure.savefig(path, dpi=130)
