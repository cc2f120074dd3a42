"""A setup learns from its own references; its record; profile intervals; comparison by rule."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.errors import DocumentError
from loopback.examination.reference_record import (
    FeedSitting,
    Sitting,
    add_sitting,
    read_reference_record,
)
from loopback.identify.compare import compare
from loopback.identify.data import PedalRun, prepare
from loopback.identify.joint import JointFit, fit_hypothesis
from loopback.identify.learned import BELIEVED, SetupLearned, learn
from loopback.identify.loads import find_setups
from loopback.identify.nuisance import plan_nuisances
from loopback.identify.problem import Problem
from loopback.identify.profile import profile_interval
from loopback.identify.sitting import read_sitting
from loopback.identify.starts import first_sight, starts_of
from loopback.quantity import Estimate
from tests.reference.population_pedals import invent_pedal
from tests.reference.population_study import study_one
from tests.reference.population_table import KINDS, Setup, examine_pedal


def sittings_of(true: SetupLearned, count: int, seed: int) -> list[Sitting]:
    """Sittings of three references per feed on a setup of those sizes."""
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(count):
        feeds = []
        for feed in ("plain", "resistor"):
            places = [1, 6, 10]
            walk = np.cumsum(rng.normal(0, true.walk_u_db, 10))
            gain = rng.normal(0, true.gain_u_db, 3) + walk[np.array(places) - 1]
            shape = rng.normal(0, true.shape_u_db, 3)
            plugs = rng.normal(0, true.mating_u_farad, (3, 2)).sum(axis=1)
            c = list(map(float, plugs)) if feed == "resistor" else []
            feeds.append(
                FeedSitting(feed, places, list(map(float, gain)), list(map(float, shape)), c)
            )
        made.append(Sitting("2026-11-25T20:00:00+01:00", feeds))
    return made


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_many_references_outweigh_the_prior(factor: float) -> None:
    """After forty sittings every size is known to a fifth, though half or twice the believed."""
    true = replace(
        BELIEVED,
        gain_u_db=factor * BELIEVED.gain_u_db,
        walk_u_db=factor * BELIEVED.walk_u_db,
        shape_u_db=factor * BELIEVED.shape_u_db,
        mating_u_farad=factor * BELIEVED.mating_u_farad,
    )
    found = learn(sittings_of(true, 40, 3))
    assert found.references == 240
    for name in ("gain_u_db", "shape_u_db", "mating_u_farad"):
        assert getattr(found, name) == pytest.approx(getattr(true, name), rel=0.2), name
    assert found.walk_u_db == pytest.approx(true.walk_u_db, rel=0.35)


def test_without_references_the_prior_remains() -> None:
    """The root mean square of a log-normal of 0.4 is exp(0.4²) times its median (closed form)."""
    found = learn(())
    for name in ("gain_u_db", "walk_u_db", "shape_u_db", "mating_u_farad"):
        expected = getattr(BELIEVED, name) * np.exp(0.4**2)
        assert getattr(found, name) == pytest.approx(expected, rel=0.01)


def test_one_sitting_moves_the_belief_a_little() -> None:
    """Three references that lie far apart raise the belief, by less than they say themselves."""
    calm, wild = (
        learn(sittings_of(replace(BELIEVED, gain_u_db=size), 1, 4)) for size in (0.0005, 0.012)
    )
    assert calm.gain_u_db < learn(()).gain_u_db < wild.gain_u_db < 0.012


@pytest.mark.parametrize("step_db", [0.005, 0.01, 0.02])
def test_a_drift_far_beyond_the_belief_is_believed(step_db: float) -> None:
    """An interface that has not warmed up drifts by ten times the belief, the same way all along.

    What a pedal run may be off by against two references then is at least half of what these
    differ by, within two standard uncertainties.
    """
    gain = [[step_db * place for place in places] for places in ((1, 6), (7, 10))]
    feeds = [
        FeedSitting(feed, places, db, [0.0, 0.0], [])
        for feed, places, db in zip(("resistor", "plain"), ([1, 6], [7, 10]), gain, strict=True)
    ]
    found = learn([Sitting("2026-11-25T20:00:00+01:00", feeds)])
    assert 2 * found.gain_u_db > 0.5 * (gain[0][1] - gain[0][0])
    assert found.gain_u_db > 2 * BELIEVED.gain_u_db


def test_a_sitting_is_read_from_its_references() -> None:
    """What references differ by comes back: gain, and capacitance of the coupler's plugs."""
    kind = replace(KINDS["full"], true_gain_db=0.01, true_mating_f=0.5e-12)
    setup = Setup(kind, np.random.default_rng(3), perfect=True)
    setup.gain_db, setup.mating_f = 0.01, 0.5e-12
    pedal = invent_pedal(np.random.default_rng(1), setup.load_f)
    examined = examine_pedal(pedal, setup)
    setups, _ = find_setups(examined.references)
    mine = [(lab, r, examined.places[r.run_id]) for lab, r in examined.references]
    found = {f.feed: f for f in read_sitting(mine, setups["instrument"], "").feeds}
    gain = np.array(found["plain"].gain_db)
    response = [
        r.h for lab, r in examined.references
        if (lab.feed, lab.load, lab.level_db) == ("plain", "instrument", 0.0)
    ]  # fmt: skip
    at_1k = 20 * np.log10(np.abs([h[np.searchsorted(r_f, 1e3)] for h, r_f in zip(
        response, [examined.references[0][1].f_hz] * len(response), strict=True)]))  # fmt: skip
    assert gain == pytest.approx(at_1k - at_1k.mean(), abs=2e-4)
    assert len(found["resistor"].c_farad) == 5
    assert 0.2e-12 < np.std(found["resistor"].c_farad) < 2e-12


def test_the_record_grows_by_sittings(tmp_path: Path) -> None:
    """Sittings are added, none twice; damage and newer versions are refused by name."""
    path = tmp_path / "setup-references.json"
    assert read_reference_record(path).sittings == []
    one, two = sittings_of(BELIEVED, 2, 5)
    two = msgspec.structs.replace(two, at="2026-11-26T20:00:00+01:00")
    add_sitting(path, one)
    record = add_sitting(path, two)
    assert read_reference_record(path) == record
    assert record.sittings == [one, two]
    add_sitting(path, msgspec.structs.replace(two, at="2026-11-27T09:00:00+01:00", feeds=[]))
    assert read_reference_record(path) == record  # it had nothing to say
    fewer = msgspec.structs.replace(two, feeds=two.feeds[:1])
    record = add_sitting(path, fewer)  # the same references, read again
    assert record.sittings == [one, fewer]
    path.write_bytes(msgspec.json.encode(msgspec.structs.replace(record, version=99)))
    with pytest.raises(DocumentError, match="version 99"):
        read_reference_record(path)
    path.write_text('{"version": 1, "sittings": [{"at": 3}]}', encoding="utf-8")
    with pytest.raises(DocumentError, match=r"sittings\[0\]\.at"):
        add_sitting(path, one)
    assert '"at": 3' in path.read_text(encoding="utf-8")


def test_profile_of_a_parabola_is_the_symmetric_interval() -> None:
    """For a light shunt C and conductance have the intervals that their covariance gives."""
    setup = Setup(KINDS["standard_check"], np.random.default_rng([5, 8]))
    pedal = next(
        p for p in (invent_pedal(np.random.default_rng([1, i]), 4e-10) for i in range(50))
        if p.truth.family == "pulldown" and (p.truth.g_siemens or 1) < 1.5e-6
    )  # fmt: skip
    examined = examine_pedal(pedal, setup)
    setups, priors = find_setups(examined.references)
    runs = [
        PedalRun(e.label, e.ratio, examined.places[e.run_id])
        for e in examined.evidence
        if e.ratio is not None and e.label.position == pedal.position
    ]
    data = prepare(runs, setups, priors)
    plan = plan_nuisances(data, learn(()), priors)
    shunt = HYPOTHESES["shunt"]
    fit = fit_hypothesis(shunt, data, plan, starts_of(shunt, first_sight(data, priors)), priors)
    problem = Problem(shunt, data, plan, priors)
    for name in ("c_farad", "g_siemens"):
        low, high = profile_interval(problem, fit, name)
        symmetric = fit.estimates[name].interval()
        width = symmetric[1] - symmetric[0]
        assert low == pytest.approx(symmetric[0], abs=0.05 * width)
        assert high == pytest.approx(symmetric[1], abs=0.05 * width)


def made_fit(name: HypothesisName, chi2: float, excess: float = 0.1, **values: float) -> JointFit:
    """A fit of given quality; what is not given has its start value and 1 % of doubt."""
    unknowns = HYPOTHESES[name].unknowns
    chosen = {u.name: values.get(u.name, u.start) for u in unknowns}
    u_of = {u.name: abs(chosen[u.name]) * 0.01 + 1e-15 for u in unknowns}
    estimates = {u.name: Estimate(chosen[u.name], u_of[u.name], u.unit) for u in unknowns}
    search = np.array(
        [np.log(chosen[u.name]) if u.log else chosen[u.name] / u.step for u in unknowns]
    )
    spread = np.array([0.01 if u.log else u_of[u.name] / u.step for u in unknowns])
    return JointFit(
        name, tuple(chosen), estimates, search, np.diag(spread**2), chi2, excess, excess, 0.001,
        -chi2 / 2, np.zeros(1),
    )  # fmt: skip


def test_no_winner_where_nothing_describes_the_data() -> None:
    """Adequacy comes first: the best of fits that all fail is no winner."""
    found = compare([made_fit("shunt", 4e4, 30.0), made_fit("coupled", 2e4, 9.0)], "proven")
    assert found.winner is None
    assert found.consistent == ()
    assert {e.why for e in found.excluded} == {"misfit"}


def test_nested_circuits_are_told_by_interval() -> None:
    """A special case stands until three standard uncertainties speak against it."""
    near = compare([made_fit("wire", 10.0), made_fit("shunt", 2.0)], "proven")
    far = compare([made_fit("wire", 12.0), made_fit("shunt", 2.0)], "proven")
    assert (near.winner, far.winner) == ("wire", "shunt")
    assert [e.why for e in near.excluded] == ["simpler_suffices"]
    assert [e.why for e in far.excluded] == ["special_case"]


def test_a_stage_stays_beside_a_wire_whatever_the_evidence() -> None:
    """With one load only power or reversal excludes a stage that describes the data."""
    fits = [made_fit("wire", 5.0), made_fit("buffer", 60.0)]
    assert set(compare(fits, "open").consistent) == {"wire", "buffer"}
    assert compare(fits, "proven").winner == "wire"


def test_a_negative_capacitance_is_no_passive_circuit() -> None:
    """A passive circuit that needs -380 pF is out, and the stage remains."""
    fits = [made_fit("shunt", 5.0, c_farad=-380e-12), made_fit("buffer", 6.0)]
    found = compare(fits, "disproven")
    assert found.winner == "buffer"
    assert ("shunt", "impossible_value") in {(e.hypothesis, e.why) for e in found.excluded}


def test_a_lopsided_doubt_reaches_the_longer_side() -> None:
    """Series R beside 88 pF hangs on an output impedance that may be twice the believed one.

    Its profile is a third longer upwards; by the parabola it was 3.4 uncertainties from nothing.
    """
    row = study_one(78, 62, "standard_check")
    assert row["family"] == "relay_mute"
    value, u = row["stated"]["r"]
    assert u > 10.0
    assert (value - row["truth_r"]) / u < 3.0
