"""How steady a setup is: drift of gain and treble, scatter of plugs, as believed and as learned.

Every size has a log-normal prior: its median is common practice, and a setup in good order is
within a factor of 1.5 of it two times out of three. The references of one sitting are few, so what
they say is weighed against the prior by their likelihood (Bayes' rule on a grid); with none at all
the prior itself remains, whose root mean square is 1.17 times its median.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import F64
from loopback.examination.reference_record import FeedSitting, Sitting

PRIOR_U_LOG = 0.4
"""Standard deviation of the natural logarithm of every size."""
ODD = 3.0
"""Beyond so many of them the prior falls by a power of the size, no longer as a log-normal: a setup
may be out of order, and its references then say so."""
_GRID = np.exp(np.linspace(-3.5, 8.5, 49) * PRIOR_U_LOG)
SETTLED_DB, SETTLED_F = 1e-4, 0.01e-12
"""What noise alone leaves of a figure in a sitting: no size is believed to be below it."""


@dataclass(frozen=True, slots=True)
class SetupLearned:
    """Sizes of what differs from run to run on one setup, each a standard deviation.

    Parameters
    ----------
    gain_u_db : float
        Gain, independent from run to run.
    walk_u_db : float
        Step of a random walk of the gain from run to run.
    shape_u_db : float
        Level at 20 kHz against 1 kHz.
    mating_u_farad : float
        Capacitance of one plug from plugging it again.
    references : int
        How many reference runs stand behind it beside the priors.
    """

    gain_u_db: float
    walk_u_db: float
    shape_u_db: float
    mating_u_farad: float
    references: int = 0


BELIEVED = SetupLearned(
    gain_u_db=0.0020, walk_u_db=0.0010, shape_u_db=0.0010, mating_u_farad=0.15e-12
)
"""Medians for a warmed-up interface and leads taped down: common practice."""
CASUAL = SetupLearned(
    gain_u_db=0.0040, walk_u_db=0.0020, shape_u_db=0.0020, mating_u_farad=0.40e-12
)
"""Medians for leads that lie loose and an interface just switched on: common practice."""


def learn(sittings: Sequence[Sitting], believed: SetupLearned = BELIEVED) -> SetupLearned:
    """Learn the sizes from references made again and again.

    Parameters
    ----------
    sittings : sequence of Sitting
        All of this setup, that of today included; empty: none.
    believed : SetupLearned
        Medians of the priors.

    Returns
    -------
    SetupLearned
        Root mean squares of the posterior: what an interval has to be made of.
    """
    feeds = [feed for sitting in sittings for feed in sitting.feeds if len(feed.places) > 1]
    gain = [(np.array(f.gain_db), np.array(f.places, float)) for f in feeds]
    sizes = np.stack(np.meshgrid(_GRID, _GRID, indexing="ij"), axis=-1).reshape(-1, 2)
    base = np.array([believed.gain_u_db, believed.walk_u_db])
    log_p = _log_prior(sizes).sum(axis=1)
    for values, places in gain:
        independent, walk = np.eye(len(places)), np.minimum.outer(places, places) - places.min()
        log_p += _log_likelihood(values, (independent, walk), (sizes * base) ** 2, SETTLED_DB)
    g, w = base * _rms(sizes, log_p)
    shape = _one_size([np.array(f.shape_db) for f in feeds], believed.shape_u_db, SETTLED_DB)
    plugs = [np.array(f.c_farad) for f in feeds if f.c_farad]
    # A coupler has two plugs.
    mating = _one_size(plugs, math.sqrt(2) * believed.mating_u_farad, SETTLED_F) / math.sqrt(2)
    return replace(
        believed,
        gain_u_db=float(g),
        walk_u_db=float(w),
        shape_u_db=shape,
        mating_u_farad=mating,
        references=sum(len(f.places) for f in feeds),
    )


def _one_size(groups: Sequence[F64], believed: float, noise: float) -> float:
    sizes = _GRID[:, None]
    log_p = _log_prior(sizes).sum(axis=1)
    for values in groups:
        log_p += _log_likelihood(values, (np.eye(len(values)),), (sizes * believed) ** 2, noise)
    return believed * float(_rms(sizes, log_p)[0])


def _log_prior(sizes: F64) -> F64:
    z = np.abs(np.log(sizes) / PRIOR_U_LOG)
    return np.asarray(-0.5 * np.where(z < ODD, z**2, ODD * (2 * z - ODD)))


def _log_likelihood(values: F64, shapes: Sequence[F64], variances: F64, noise: float) -> F64:
    """Return the likelihood of differences from an unknown mean, for each row of `variances`."""
    n = len(values)
    contrasts = np.linalg.svd(np.ones((1, n)))[2][1:]  # n - 1 directions free of the mean
    y = contrasts @ values
    parts = np.stack([contrasts @ shape @ contrasts.T for shape in shapes])
    covariance = np.einsum("sv,vij->sij", variances, parts) + noise**2 * np.eye(n - 1)
    _, log_det = np.linalg.slogdet(covariance)
    solved = np.linalg.solve(covariance, np.broadcast_to(y[:, None], (len(variances), n - 1, 1)))
    return np.asarray(-0.5 * (log_det + (y[None, None, :] @ solved)[:, 0, 0]))


def _rms(sizes: F64, log_p: F64) -> F64:
    p = np.exp(log_p - log_p.max())
    return np.asarray(np.sqrt((p[:, None] * sizes**2).sum(axis=0) / p.sum()))


def feed_sitting(
    feed: str, places: Sequence[int], gain_db: F64, shape_db: F64, c_farad: F64 | None
) -> FeedSitting:
    """Make the entry of one feed, every figure over its mean.

    Parameters
    ----------
    feed : str
        Plain or resistor.
    places : sequence of int
        Of the references in the order of all runs.
    gain_db, shape_db : ndarray of float64, shape (n,)
        Level, and level at 20 kHz against 1 kHz.
    c_farad : ndarray of float64 or None, shape (n,)
        Capacitance; None where it does not show.

    Returns
    -------
    FeedSitting
        Plain numbers, to be stored.
    """
    return FeedSitting(
        feed,
        [int(p) for p in places],
        [float(v) for v in gain_db - gain_db.mean()],
        [float(v) for v in shape_db - shape_db.mean()],
        [] if c_farad is None else [float(v) for v in c_farad - c_farad.mean()],
    )
