"""Differences of identified pedals against the truth, and a repair that is told from no repair."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.comparing.changes import Changes, changes_of
from loopback.comparing.difference import less
from loopback.comparing.sentences import change_sentence, result_change_sentences
from loopback.comparing.summarise import summary_of
from loopback.comparing.summary import Summary
from loopback.examination.records import Pedal
from loopback.guided.simulated_sitting import SimulatedSitting
from loopback.quantity import Estimate
from tests.reference.two_sittings import Drawn, bypass_values, drawn

FIRST, SECOND = "harbour-bell", "quarry-lamp"
SITTINGS = 100


@pytest.fixture(scope="module")
def pairs() -> list[Drawn]:
    """Setups and sittings drawn from what is believed of them."""
    return [drawn(FIRST, SECOND, seed) for seed in range(SITTINGS)]


def _in_u(differences: list[Estimate], truth: float) -> np.ndarray:
    return np.array([(d.value - truth) / d.u for d in differences])


@pytest.mark.slow
@pytest.mark.parametrize("shared", [True, False])
def test_intervals_of_differences_cover_the_truth(pairs: list[Drawn], shared: bool) -> None:
    """On one setup and on two, 90 to 99 % of the 95 % intervals hold the true difference."""
    (c1, g1), (c2, g2) = bypass_values(FIRST), bypass_values(SECOND)
    seconds = [p.same_setup if shared else p.other_setup for p in pairs]
    for truth, found in (
        (c2 - c1, [(s.c_farad, p.first.c_farad) for s, p in zip(seconds, pairs, strict=True)]),
        (g2 - g1, [(s.g_siemens, p.first.g_siemens) for s, p in zip(seconds, pairs, strict=True)]),
    ):
        z = _in_u([less(a, b, shared=shared) for a, b in found], truth)
        assert 0.90 <= float(np.mean(np.abs(z) < 1.96)) <= 0.99
        assert 0.8 < float(np.std(z)) < 1.2


@pytest.mark.slow
def test_one_setup_makes_differences_finer(pairs: list[Drawn]) -> None:
    """What the coupler and the resistor leave in doubt is gone from a difference on one setup."""
    fine = [less(p.same_setup.c_farad, p.first.c_farad, shared=True).u for p in pairs]
    coarse = [less(p.same_setup.c_farad, p.first.c_farad, shared=False).u for p in pairs]
    assert float(np.mean(fine)) < 0.8 * float(np.mean(coarse))
    z = _in_u(
        [less(p.same_setup.c_farad, p.first.c_farad, shared=False) for p in pairs],
        bypass_values(SECOND)[0] - bypass_values(FIRST)[0],
    )
    assert float(np.std(z)) < 0.8  # taken as independent, the interval is wider than it need be


def _summary(path: Path, circuit: str, seed: int, **about: str) -> Summary:
    sitting = SimulatedSitting(circuit, sweep_s=1.0, silence_s=0.5, seed=seed, bypass="a")
    sitting.play_into(path, Pedal("Kit 7", **about))
    return summary_of(analyse(path))


@pytest.fixture(scope="module")
def cold_joint(tmp_path_factory: pytest.TempPathFactory) -> Summary:
    """A kit whose output joint is cold."""
    return _summary(tmp_path_factory.mktemp("repair") / "before", "kit-cold-joint", 11)


@pytest.fixture(scope="module")
def mended(tmp_path_factory: pytest.TempPathFactory) -> Summary:
    """The same kit without the fault, another day."""
    return _summary(tmp_path_factory.mktemp("repair") / "after", "harbour-bell", 12)


def _outcomes(changes: Changes) -> dict[str, str]:
    return {c.difference.quantity: c.outcome for c in changes.changes}


def test_a_repair_is_seen_and_nothing_else(cold_joint: Summary, mended: Summary) -> None:
    """A cold joint that was made good shows as in to out and level, each in one sentence."""
    changes = changes_of(cold_joint, mended)
    outcomes = _outcomes(changes)
    assert outcomes["series"] == "changed"
    assert outcomes["c"] == "not_told"
    assert changes.path
    by_name = {c.difference.quantity: c for c in changes.changes}
    series = by_name["series"].difference
    assert series.difference.value < -10
    sentence = change_sentence(by_name["series"])
    assert sentence.startswith("In to out: changed, from ")
    assert sentence.count(". ") == 0
    assert any(s.startswith("Bypass: was ") for s in result_change_sentences(changes))


def test_without_a_repair_nothing_changes(mended: Summary, tmp_path: Path) -> None:
    """Two examinations of the same circuit differ in nothing beyond doubt."""
    again = _summary(tmp_path / "again", "harbour-bell", 13)
    changes = changes_of(mended, again)
    assert "changed" not in _outcomes(changes).values()
    assert (changes.path, changes.power, changes.grades) == (False, False, False)
    assert all("as before" in s for s in result_change_sentences(changes))


def test_another_pedal_is_pointed_out(mended: Summary) -> None:
    """Before and after are of one pedal: a serial number that differs is told."""
    other = msgspec.structs.replace(mended, pedal=msgspec.structs.replace(mended.pedal, serial="2"))
    assert any("make sure" in s for s in result_change_sentences(changes_of(mended, other)))
