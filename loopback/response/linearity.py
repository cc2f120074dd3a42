"""Does a path treat loud and soft alike? The mark of silicon on the line, and of its supply."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.quantity import Estimate
from loopback.response.distortion import (
    Harmonic,
    OverReference,
    distortion_of,
    middle_harmonics,
    over_reference,
)
from loopback.response.movement import Movement, pair_errors_db
from loopback.response.reading import Ratio, TakeReading
from loopback.signal.take import Signal

Told = Literal["yes", "no", "open"]
"""yes, no: the whole 95 % interval is on one side of the limit; open: it is on both."""

LEVEL_DB = 0.02
"""Level that 20 dB more of signal may change in a path without silicon."""
HARMONICS_DB = 10.0
"""Harmonics so far over the setup's own mark silicon."""
CHARGING_DB = 0.02
"""Takes, or the two sweeps of a take, that differ by more than this and more than the reference's
own do: a supply that the signal charges, if nothing else moves."""
U_STEP_DB = 0.001
"""What two converters leave of the distance of two tones, standard uncertainty (judgement)."""
_MORE = 6.0
"""Noise alone scatters three values by so much more variance once in five hundred times."""
_LOW_HZ, _HIGH_HZ = 200.0, 5000.0
_DB = 20 / math.log(10)


@dataclass(frozen=True, slots=True)
class Linearity:
    """One run against its reference, at the levels at which both were played.

    Parameters
    ----------
    run_id : str
        The pedal run.
    level_step_db : Estimate or None
        How much louder the loud check tone passes than the soft one, 20 dB below, with that of the
        reference taken off; negative for a clamp. None: nothing passes, or no pair was read.
    second_level_db : Estimate or None
        The same from a whole run at a lower level, 200 Hz to 5 kHz; None: there is none.
    harmonics : tuple of Harmonic
        Orders 2 to 5 over the fundamental, 300 Hz to 2 kHz.
    over_reference_db : Estimate or None
        That order which stands furthest over the same of the reference; None: none shows.
    over_order : int or None
        Which.
    over_at_least : bool
        True: that of the reference lies in the noise, and only the lower end of
        `over_reference_db` holds.
    takes_db : Estimate or None
        Last take over first, with that of the reference taken off; None: fewer than two takes.
    sweeps_db : Estimate or None
        Downward over upward sweep, mean of the takes, with that of the reference taken off.
    level_dependent, harmonics_raised, charging : {"yes", "no", "open"}
        Conclusions against `LEVEL_DB`, `HARMONICS_DB` and `CHARGING_DB`.
    """

    run_id: str
    level_step_db: Estimate | None
    second_level_db: Estimate | None
    harmonics: tuple[Harmonic, ...]
    over_reference_db: Estimate | None
    over_order: int | None
    takes_db: Estimate | None
    sweeps_db: Estimate | None
    level_dependent: Told
    harmonics_raised: Told
    charging: Told
    over_at_least: bool = False

    @property
    def silicon(self) -> Told:
        """Whether anything but wire, resistors and capacitors is on the line."""
        marks = (self.level_dependent, self.harmonics_raised, self.charging)
        if "yes" in marks:
            return "yes"
        return "open" if "open" in marks else "no"


def find_linearity(
    run_id: str,
    takes: Sequence[TakeReading],
    reference_takes: Sequence[TakeReading],
    signal: Signal,
    levels: tuple[Ratio, Ratio] | None = None,
    movement: Movement | None = None,
    u_step_db: float = U_STEP_DB,
) -> Linearity | None:
    """Compare loud with soft, first with last, and harmonics with those of the setup.

    Parameters
    ----------
    run_id : str
        The pedal run.
    takes, reference_takes : sequence of TakeReading
        Of it and of its references, which must have been played at the same level.
    signal : Signal
        What was played.
    levels : tuple of Ratio or None
        The run, and a run of the same hook-up at a lower level, each over its reference.
    movement : Movement or None
        Of the run: while a tremolo moves the level, tones played one after another say nothing of
        loud and soft.
    u_step_db : float
        What converters leave of a difference of levels, beyond noise and scatter.

    Returns
    -------
    Linearity or None
        None without takes of both.
    """
    if not takes or not reference_takes:
        return None
    kind = "steady" if movement is None else movement.kind
    step = _difference(_steps(takes, worst=kind == "settling"), _steps(reference_takes), u_step_db)
    second = None if levels is None else _second_level(*levels)
    distortions = [distortion_of(t, signal) for t in (takes, reference_takes)]
    own, setup = (() if d is None else middle_harmonics(d) for d in distortions)
    over = over_reference(own, setup)
    between = _drift(takes, reference_takes, u_step_db)
    sweeps = _difference(_sweeps(takes), _sweeps(reference_takes), u_step_db)
    dependent = _either(_beyond(step, LEVEL_DB), _beyond(second, LEVEL_DB))
    charging = _either(_beyond(between, CHARGING_DB), _beyond(sweeps, CHARGING_DB))
    if movement is not None and kind == "settling":
        charging = "yes" if movement.loud_only else "open"
    elif kind in ("modulated", "unsteady", "gated"):
        charging = "open"
    if kind == "modulated":
        step, dependent = None, "open"
    return Linearity(
        run_id=run_id,
        level_step_db=step,
        second_level_db=second,
        harmonics=own,
        over_reference_db=None if over is None else over.over_db,
        over_order=None if over is None else over.order,
        over_at_least=over is not None and over.at_least,
        takes_db=between,
        sweeps_db=sweeps,
        level_dependent=dependent,
        harmonics_raised=raised(over, own, setup),
        charging=charging,
    )


def raised(over: OverReference | None, own: Sequence[Harmonic], setup: Sequence[Harmonic]) -> Told:
    """Tell whether any harmonic is above `HARMONICS_DB` over the setup's own.

    Parameters
    ----------
    over : OverReference or None
        Of the order that stands out most.
    own, setup : sequence of Harmonic
        Of the run and of its reference.

    Returns
    -------
    str
        "no" also where the setup's own lies in the noise: not so far over what it would show.
    """
    if over is not None and over.over_db.interval()[0] > HARMONICS_DB:
        return "yes"
    shown = {
        h.order: h.limit_db if h.level_db is None else max(h.level_db.value, h.limit_db - 3.0)
        for h in setup
    }
    pairs = [(h.limit_db, shown[h.order]) for h in own if h.order in shown]
    if not pairs:
        return "open"
    return "no" if all(most - least < HARMONICS_DB for most, least in pairs) else "open"


def _steps(takes: Sequence[TakeReading], worst: bool = False) -> list[tuple[float, float]]:
    """Loud over soft tone of every block, or of that where they differ most, and its doubt."""
    out = []
    for take in takes:
        middle = [t.u_level_db for t in take.tones if t.played_dbfs < _loudest(take) - 1]
        noise = max(middle, default=math.inf)
        out += [(gap, noise) for gap in pair_errors_db(take.tones)]
    known = [(gap, u) for gap, u in out if math.isfinite(gap) and math.isfinite(u)]
    return [max(known, key=lambda row: abs(row[0]))] if worst and known else known


def _loudest(take: TakeReading) -> float:
    return max((t.played_dbfs for t in take.tones), default=0.0)


def _sweeps(takes: Sequence[TakeReading]) -> list[tuple[float, float]]:
    return [(_mid_db(t, t.down) - _mid_db(t, t.up), _u_mid_db(t)) for t in takes]


def _drift(
    takes: Sequence[TakeReading], reference_takes: Sequence[TakeReading], u_step_db: float
) -> Estimate | None:
    """Last take over first of a run; how far takes of references are apart is its doubt."""
    if len(takes) < 2:
        return None
    level = [_mid_db(t, (t.up + t.down) / 2) for t in takes]
    noise = _u_mid_db(takes[0])
    runs: dict[str, list[float]] = {}
    for take in reference_takes:
        runs.setdefault(take.run_id, []).append(_mid_db(take, (take.up + take.down) / 2))
    apart = [np.ptp(row) for row in runs.values() if len(row) > 1]
    own = float(np.sqrt(np.mean(np.square(apart)))) if apart else 0.0
    return Estimate(level[-1] - level[0], math.hypot(noise, own, u_step_db), "dB")


def _mid_db(take: TakeReading, h: np.ndarray[tuple[int], np.dtype[np.complex128]]) -> float:
    band = (take.f_hz >= _LOW_HZ) & (take.f_hz <= _HIGH_HZ)
    return float(np.mean(_DB * np.log(np.maximum(np.abs(h[band]), 1e-12))))


def _u_mid_db(take: TakeReading) -> float:
    band = (take.f_hz >= _LOW_HZ) & (take.f_hz <= _HIGH_HZ)
    size = np.maximum(np.abs(take.up[band] + take.down[band]) / 2, 1e-12)
    share = take.var[band] / np.square(size)
    return _DB * math.sqrt(float(np.mean(share)) / int(np.sum(band)))


def _difference(
    own: list[tuple[float, float]], setup: list[tuple[float, float]], u_least: float
) -> Estimate | None:
    """Mean of the first over that of the second, with the doubt of noise, or of more scatter."""
    if not own or not setup:
        return None
    u2, means = u_least**2, []
    for rows in (own, setup):
        values, noise = (np.array(column) for column in zip(*rows, strict=True))
        means.append(float(np.mean(values)))
        count = len(values)
        scatter = float(np.var(values, ddof=1)) if count > 1 else 0.0
        by_noise = float(np.mean(np.square(noise)))
        u2 += (scatter if scatter > _MORE * by_noise else by_noise) / count
    return Estimate(means[0] - means[1], math.sqrt(u2), "dB")


def _second_level(loud: Ratio, soft: Ratio) -> Estimate:
    band = (loud.f_hz >= _LOW_HZ) & (loud.f_hz <= _HIGH_HZ)
    apart = _DB * np.log(np.maximum(np.abs(loud.t[band]) / np.abs(soft.t[band]), 1e-12))
    noise = [
        _DB * math.sqrt(float(np.mean(r.var[band] / np.square(np.abs(r.t[band]))) / 2 / len(apart)))
        for r in (loud, soft)
    ]
    u = math.hypot(*noise, loud.u_gain_db, soft.u_gain_db)
    return Estimate(float(np.mean(apart)), u, "dB")


def _beyond(value: Estimate | None, limit: float) -> Told:
    """Tell whether the size of a value is beyond a limit."""
    if value is None:
        return "open"
    low, high = value.interval()
    if low > limit or high < -limit:
        return "yes"
    return "no" if -limit < low and high < limit else "open"


def _either(*told: Told) -> Told:
    if "yes" in told:
        return "yes"
    return "no" if "no" in told else "open"
