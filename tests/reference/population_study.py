"""One pedal on one setup: what was true, what was said, and the figures of all of them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from loopback.identify.learned import SetupLearned, learn
from loopback.identify.loads import find_setups
from loopback.identify.priors import Priors
from loopback.identify.setup import SetupFound
from loopback.identify.sitting import read_sitting
from loopback.plan.runs import Load
from loopback.verdict.judge import judge
from loopback.verdict.limits import FITTED_G, WIRING_C
from loopback.verdict.result import Result
from tests.reference.population_pedals import Pedal, invent_pedal
from tests.reference.population_table import KINDS, Examined, Setup, examine_pedal

Row = dict[str, Any]
PASSIVE = ("wired", "loaded")


def decide(
    examined: Examined,
    setups: Mapping[Load, SetupFound],
    learned: SetupLearned | None,
    priors: Priors,
) -> Result:
    """Ask the verdict as the tool does; the only place where the study meets it."""
    return judge(
        examined.evidence, setups.get("instrument"), setups=setups, learned=learned, priors=priors
    )


def study_one(seed: int, index: int, kind_name: str) -> Row:
    """Invent a pedal and a setup, examine and judge; everything follows from the seed."""
    rng = np.random.default_rng([seed, index, sorted(KINDS).index(kind_name)])
    setup = Setup(KINDS[kind_name], rng)
    # The same pedal meets every setup; only a lookalike is made to measure.
    pedal = invent_pedal(np.random.default_rng([seed, index]), setup.load_f)
    return {"index": index, **study_pedal(pedal, setup)}


def study_pedal(pedal: Pedal, setup: Setup) -> Row:
    """Examine and judge one pedal on one setup."""
    kind = setup.kind
    examined = examine_pedal(pedal, setup)
    setups, priors = find_setups(examined.references)
    learned = learn((), kind.believed)
    if "instrument" in setups:
        mine = [(lab, r, examined.places[r.run_id]) for lab, r in examined.references]
        learned = learn([read_sitting(mine, setups["instrument"], "")], kind.believed)
    result = decide(examined, setups, learned, priors)
    truth = pedal.truth
    names = result.consistent
    row: Row = {
        "kind": kind.name, "family": truth.family, "truth": truth.path,
        "outside": truth.outside, "path": result.path, "alternatives": list(result.alternatives),
        "consistent": list(names), "winner": names[0] if len(names) == 1 else None,
        "position_right": result.bypass_position == pedal.position,
        "near_limit": _near_limit(result, truth.c_farad, truth.g_siemens),
        "at_interface": setup.at_interface,
        "truth_c": truth.c_farad, "truth_g": truth.g_siemens, "truth_r": truth.series_ohm,
    }  # fmt: skip
    if result.shunt is not None:
        c, g, r = result.shunt.c_farad, result.shunt.g_siemens, result.series_ohm
        row["stated"] = {"c": (c.value, c.u), "g": (g.value, g.u)}
        if r is not None:
            row["stated"]["r"] = (r.value, r.u)
    return row


def in_rounds(count: int, kinds: Sequence[str]) -> list[tuple[int, str]]:
    """Order pedals and setups so that any beginning of the list is a balanced study."""
    return [
        (index, kinds[(index + turn) % len(kinds)])
        for turn in range(len(kinds))
        for index in range(count)
    ]


def _near_limit(result: Result, c: float | None, g: float | None) -> bool:
    """Tell whether a true value lies within the stated interval of a limit."""
    if result.shunt is None or c is None or g is None:
        return False
    at_c = abs(c - WIRING_C.value) < 1.96 * result.shunt.c_farad.u
    at_g = abs(g - FITTED_G.value) < 1.96 * result.shunt.g_siemens.u
    return at_c or at_g


def wrong(row: Row) -> bool:
    """Tell whether a path was stated and is not the true one."""
    said = row["path"]
    if said == "undecided" or said == row["truth"]:
        return False
    return not (row["truth"] == "silent" and said == "faulty")


def inseparable(row: Row) -> bool:
    """Tell whether leaving it open is the right answer on that setup."""
    return bool(row["near_limit"]) or row["family"] == "lookalike"


def pulls(rows: Sequence[Row], what: str) -> list[tuple[str, float, float]]:
    """Family, error over stated uncertainty, and half-width of every figure that has a truth."""
    out = []
    for row in rows:
        true = row[f"truth_{what}"]
        if true is None or row["truth"] not in PASSIVE or row["outside"]:
            continue
        if what not in row.get("stated", {}):
            continue
        value, u = row["stated"][what]
        out.append((row["family"], (value - true) / u if u > 0 else math.inf, 1.96 * u))
    return out


def confusion(rows: Sequence[Row]) -> dict[str, dict[str, int]]:
    """How often each true path was called what."""
    table: dict[str, Counter[str]] = {}
    for row in rows:
        table.setdefault(row["truth"], Counter())[row["path"]] += 1
    return {true: dict(said) for true, said in sorted(table.items())}


def coverage(rows: Sequence[Row], what: str) -> dict[str, Any]:
    """Share of 95 % intervals that hold the truth, per family too, and how wide they need be."""
    found = pulls(rows, what)
    if not found:
        return {"n": 0}
    pull = np.array([abs(p) for _, p, _ in found])
    families: dict[str, Any] = {}
    for family in sorted({f for f, _, _ in found}):
        own = np.array([abs(p) for f, p, _ in found if f == family])
        share = float(np.mean(own <= 1.96))
        off = (share - 0.95) / math.sqrt(0.95 * 0.05 / len(own))
        families[family] = {"n": len(own), "covered": round(share, 4), "off_se": round(off, 2)}
    return {
        "n": len(pull),
        "covered": float(np.mean(pull <= 1.96)),
        "stated_over_warranted": float(1.96 / np.quantile(pull, 0.95)),
        "families": families,
    }


def figures(rows: Sequence[Row]) -> dict[str, Any]:
    """Every goal's figure."""
    stated = [r for r in rows if r["path"] != "undecided"]
    standard = [r for r in rows if r["kind"].startswith("standard") and not r["outside"]]
    decidable = [r for r in standard if not inseparable(r)]
    right = [r for r in decidable if r["path"] != "undecided"]
    out: dict[str, Any] = {
        "examinations": len(rows),
        "pedals": len({r["index"] for r in rows}),
        "examinations_on": dict(sorted(Counter(r["kind"] for r in rows).items())),
        "wrong_share": sum(wrong(r) for r in rows) / max(1, len(stated)),
        "wrong_wired": sum(wrong(r) and r["path"] == "wired" for r in rows),
        "decided_standard": len(right) / max(1, len(decidable)),
    }
    for what in ("c", "g", "r"):
        cover = coverage(rows, what)
        out[f"coverage_{what}"] = cover.get("covered")
        out[f"stated_over_warranted_{what}"] = cover.get("stated_over_warranted")
    for kind in ("full", "standard_check", "standard", "casual"):
        widths = [
            w for row in rows if row["kind"] == kind and 5e-12 < (row["truth_c"] or 0) < 20e-12
            for _, _, w in pulls([row], "c")
        ]  # fmt: skip
        out[f"median_pf_{kind}"] = float(np.median(widths)) * 1e12 if widths else None
    return out
