"""What disturbs the runs beside the pedal: which unknowns there are, and how large each may be.

All are dimensionless with a prior of mean 0 and standard deviation 1; what a step of one means
physically comes from `SetupLearned` and `Priors`. `loopback.identify.disturbed` says what each
does to a ratio.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.identify.data import FitData
from loopback.identify.learned import SetupLearned
from loopback.identify.priors import Priors
from loopback.identify.setup import DB

LEAD_A_F, LEAD_A_U_F = 300e-12, 150e-12
"""Feeding lead, where the resistor sits at its other end (2 to 5 m: common practice)."""
LOSS_U_F = 0.2e-12
"""Dielectric loss of wiring as the capacitance whose reactance it equals: 10 pF times 0.02."""
CORNER_U_LOG = 0.01
"""What a corner found from the level of a resistor reference alone may be off by (computed)."""
LOAD_LOSS_U = 0.025
PLAIN_LOAD_U_LOG = 0.5
"""Scale of the load admittance where no resistor run measured it."""


@dataclass(frozen=True, slots=True)
class Nuisances:
    """Layout of the nuisances of one set of runs.

    Parameters
    ----------
    gain : ndarray of float64, shape (n + m, n + m)
        Square root of the covariance of log gain over the references, one per run, then that of
        the resistor reference over the plain one, one per load.
    shape : ndarray of float64, shape (n + m, n + m)
        The same of the level at 20 kHz, neper.
    delay_s : ndarray of float64, shape (n,)
        Standard deviation of each run's delay.
    source_log, resistor, scale_log : float
        Of the output impedance, of the series resistor (relative), and of the load admittance
        where it was never measured.
    coupler_f : ndarray of float64, shape (m,)
        Of the coupler with its plugs, per load.
    plug_f : ndarray of float64, shape (p,)
        Of one plug, for each run in which it shows.
    load_of : ndarray of int, shape (n,)
        Which load each run has.
    plug_of : ndarray of int, shape (n,)
        Which of `plug_f` each run has; -1: plugs do not show, as with a plain feed.
    lead_a : bool
        True when the feeding lead hangs on the pedal's input.
    tick_s : float
        Of the delay between the resistor and the plain references.
    load_loss : float
        Of the loss factor of a load that no pair of references measured.
    """

    gain: F64
    shape: F64
    delay_s: F64
    source_log: float
    resistor: float
    scale_log: float
    coupler_f: F64
    plug_f: F64
    load_of: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    plug_of: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    lead_a: bool
    tick_s: float
    load_loss: float

    @property
    def count(self) -> int:
        """How many there are."""
        n, m = len(self.load_of), len(self.coupler_f)
        return 2 * (n + m) + n + 3 + m + 2 * self.plugs + 1 + int(self.lead_a) + m + 1

    @property
    def delays(self) -> slice:
        """Where the delays stand among them."""
        n, m = len(self.load_of), len(self.coupler_f)
        return slice(2 * (n + m), 2 * (n + m) + n)

    @property
    def plugs(self) -> int:
        """How many runs show their plugs."""
        return len(self.plug_f)


def plan_nuisances(data: FitData, learned: SetupLearned, priors: Priors) -> Nuisances:
    """Lay out the nuisances of a set of runs.

    Parameters
    ----------
    data : FitData
        The runs.
    learned : SetupLearned
        Sizes of drift and scatter.
    priors : Priors
        All others.

    Returns
    -------
    Nuisances
        See there.
    """
    runs = data.runs
    loads = sorted({run.label.load for run in runs})
    first = data.setups[runs[0].label.load]
    basis = first.basis
    places = sorted({p for r in runs for p in (*r.places, *r.reference_places)})
    index = {p: i for i, p in enumerate(places)}
    references: dict[tuple[str, str], tuple[int, ...]] = {}
    for run in runs:
        references.setdefault((run.label.feed, run.label.load), run.reference_places)
    # Rows: what each run and each pair of references makes of the gain at every place.
    rows = np.zeros((len(runs) + len(loads), len(places)))
    own = np.zeros((len(runs) + len(loads), len(runs) + len(references)))
    names = list(references)
    for i, run in enumerate(runs):
        key = (run.label.feed, run.label.load)
        _mean_row(rows[i], index, run.places, 1.0)
        _mean_row(rows[i], index, references[key], -1.0)
        own[i, i] = 1 / math.sqrt(len(run.places))
        own[i, len(runs) + names.index(key)] = -1 / math.sqrt(len(references[key]))
    extra = np.zeros(len(loads))
    for j, load in enumerate(loads):
        row = len(runs) + j
        for feed, sign in (("resistor", 1.0), ("plain", -1.0)):
            if (feed, load) in references:
                _mean_row(rows[row], index, references[feed, load], sign)
                own[row, len(runs) + names.index((feed, load))] = sign / math.sqrt(
                    len(references[feed, load])
                )
            else:
                extra[j] += (learned.gain_u_db / DB) ** 2
        if data.setups[load].basis == "resistor":
            extra[j] += max(data.setups[load].u_scale ** 2 - _resistor_u(data, load) ** 2, 0.0)
    walk = np.minimum.outer(np.array(places, float), np.array(places, float)) - places[0]
    gain = (learned.gain_u_db / DB) ** 2 * own @ own.T
    gain += (learned.walk_u_db / DB) ** 2 * rows @ walk @ rows.T
    gain[len(runs) :, len(runs) :] += np.diag(extra)
    shape = (learned.shape_u_db / DB) ** 2 * own @ own.T
    fed = [i for i, run in enumerate(runs) if run.label.feed == "resistor"]
    n_reference = [
        max((len(v) for (feed, ld), v in references.items() if ld == load and feed == "resistor"),
            default=1) for load in loads
    ]  # fmt: skip
    return Nuisances(
        gain=_root(gain),
        shape=_root(shape),
        delay_s=np.array([run.delay_u_s for run in runs]),
        source_log=priors.source_u_log,
        resistor=_resistor_u(data, loads[0]) if basis != "plain" else 0.0,
        scale_log={"plain": PLAIN_LOAD_U_LOG, "resistor": CORNER_U_LOG, "both": 0.0}[basis],
        coupler_f=np.array(
            [
                math.sqrt(priors.coupler_u_farad**2 + 2 * learned.mating_u_farad**2 / n)
                for n in n_reference
            ]
        ),
        plug_f=np.array([learned.mating_u_farad / math.sqrt(runs[i].matings) for i in fed]),
        load_of=np.array([loads.index(r.label.load) for r in runs]),
        plug_of=np.array([fed.index(i) if i in fed else -1 for i in range(len(runs))]),
        lead_a=first.resistor_end == "interface",
        load_loss=0.0 if basis == "both" else LOAD_LOSS_U,
        tick_s=priors.reference_delay_u_s if basis == "both" else 0.0,
    )


def _mean_row(row: F64, index: dict[int, int], places: tuple[int, ...], sign: float) -> None:
    for place in places:
        row[index[place]] += sign / len(places)


def _resistor_u(data: FitData, load: str) -> float:
    setup = next(s for name, s in data.setups.items() if name == load)
    return 0.0 if setup.resistor is None else setup.resistor.u / setup.resistor.value


def _root(covariance: F64) -> F64:
    """Square root of a covariance that may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
