"""What an output impedance that is not the assumed one does to the load, and to values in line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loopback.identify.data import PedalRun, prepare
from loopback.identify.disturbed import Disturbed
from loopback.identify.learned import learn
from loopback.identify.loads import find_setups
from loopback.identify.nuisance import plan_nuisances
from loopback.identify.priors import DEFAULT_PRIORS
from tests.reference.population_pedals import Pedal, invent_pedal
from tests.reference.population_study import pulls, study_one
from tests.reference.population_table import KINDS, Examined, Setup, examine_pedal

REALLY_OHM = 258.0


def examined() -> tuple[Pedal, Examined]:
    """One pedal on an interface whose output impedance is not the believed 150 ohm."""
    setup = Setup(KINDS["standard"], np.random.default_rng([77, 43]))
    setup.source_ohm = REALLY_OHM
    pedal = invent_pedal(np.random.default_rng([77, 43]), setup.load_f)
    return pedal, examine_pedal(pedal, setup)


def test_the_load_follows_the_output_impedance() -> None:
    """The load of the fit, moved by its nuisance, is the one found anew with the other source.

    A measured corner is that of the load with all that feeds it: 108 ohm more beside 100 kilohm
    take a thousandth off the load.
    """
    pedal, made = examined()
    setups, priors = find_setups(made.references)
    runs = [
        PedalRun(e.label, e.ratio, made.places[e.run_id])
        for e in made.evidence
        if e.ratio is not None and e.label.position == pedal.position
    ]
    data = prepare(runs, setups, priors)
    plan = plan_nuisances(data, learn(()), priors)
    disturbed = Disturbed(data, plan, priors)
    n, m = len(data.runs), len(plan.coupler_f)
    z = np.zeros(plan.count)
    before = disturbed.terms(z).y
    z[2 * (n + m) + n] = np.log(REALLY_OHM / priors.source_ohm) / plan.source_log
    moved = disturbed.terms(z).y - before
    other, _ = find_setups(made.references, priors=replace(DEFAULT_PRIORS, source_ohm=REALLY_OHM))
    anew = other["instrument"].y_load - setups["instrument"].y_load
    own = setups["instrument"].f_hz
    anew = np.interp(data.f_hz, own, anew.real) + 1j * np.interp(data.f_hz, own, anew.imag)
    use = data.f_hz > 500.0
    off = np.abs((moved[0] - anew) / before[0])[use]
    assert np.median(np.abs(anew / before[0])[use]) > 7e-4
    assert off.max() < 2e-4


def test_resistors_in_line_are_covered() -> None:
    """Four in-line filters on two plans: R and C hold the truth within three uncertainties.

    Without a check cable R rests on the output impedance; with a load plug both err with the
    resistor lead, which may be off by a percent.
    """
    rows = [study_one(77, i, kind) for i in (14, 25, 40, 43) for kind in ("full", "standard")]
    assert {row["family"] for row in rows} == {"inline"}
    found = [pull for what in ("c", "r") for _, pull, _ in pulls(rows, what)]
    assert len(found) == 16
    assert np.max(np.abs(found)) < 3
    assert np.sqrt(np.mean(np.square(found))) < 1.6


def test_a_search_along_a_ridge_is_carried_on() -> None:
    """Resistance in line and output impedance all but told as a sum: the end is not on the way."""
    row = study_one(80, 63, "standard")
    assert row["consistent"] == ["inline"]
    (pull,) = (p for _, p, _ in pulls([row], "r"))
    assert abs(pull) < 3
