"""What the references of one sitting differ by, read for the record of the setup."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.examination.reference_record import FeedSitting, Sitting
from loopback.identify.learned import feed_sitting
from loopback.identify.setup import DB, SetupFound, fit_band
from loopback.plan.runs import Feed, RunLabel
from loopback.response.reading import RunResponse

Reference = tuple[RunLabel, RunResponse, int]


def read_sitting(references: Sequence[Reference], setup: SetupFound, at: str) -> Sitting:
    """Read how far the references of one sitting lie apart.

    Gain, treble shape, delay and, behind the resistor, capacitance are linear in the logarithm of
    one response over another; they are told apart by least squares.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse, int)
        Coupler runs with the instrument load, each with its place in the order of all runs.
    setup : SetupFound
        For the impedance of the node.
    at : str
        When, ISO 8601.

    Returns
    -------
    Sitting
        Without the feeds of which there are fewer than two references.
    """
    feeds: tuple[Feed, ...] = ("plain", "resistor")
    found: list[FeedSitting] = []
    for feed in feeds:
        mine = [
            (response, place)
            for label, response, place in references
            if label.path == "coupler" and label.feed == feed and label.load == "instrument"
            and not label.level_db
        ]  # fmt: skip
        if len(mine) > 1:
            found.append(_read_feed(feed, mine, setup))
    return Sitting(at, found)


def _read_feed(
    feed: Feed, runs: Sequence[tuple[RunResponse, int]], setup: SetupFound
) -> FeedSitting:
    f_hz = runs[0][0].f_hz
    use = fit_band(f_hz) & (f_hz >= 50.0)
    s = np.asarray(2j * math.pi * f_hz[use], np.complex128)
    columns: list[C128] = [
        np.full(s.shape, 1 / DB, np.complex128),
        np.asarray((f_hz[use] / 20e3) ** 2 / DB, np.complex128),
        -s * 1e-9,
        np.full(s.shape, 1j),
    ]
    if feed == "resistor":
        z = np.interp(f_hz[use], setup.f_hz, setup.z_node.real) + 1j * np.interp(
            f_hz[use], setup.f_hz, setup.z_node.imag
        )
        columns.append(-s * z * 1e-12)
    a = np.concatenate([np.stack(columns, axis=1).real, np.stack(columns, axis=1).imag])
    base = runs[0][0].h[use]
    rows: list[F64] = []
    for response, _ in runs:
        apart = response.h[use] / base * np.exp(s * (response.delay_s - runs[0][0].delay_s))
        y = np.concatenate([np.log(np.abs(apart)), np.unwrap(np.angle(apart))])
        rows.append(np.asarray(np.linalg.lstsq(a, y, rcond=None)[0]))
    table = np.stack(rows)
    places = [place for _, place in runs]
    c_farad = table[:, 4] * 1e-12 if feed == "resistor" else None
    return feed_sitting(feed, places, table[:, 0], table[:, 1], c_farad)
