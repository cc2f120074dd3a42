"""A pedal run over its references, with variance, gain doubt and floor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.delay import minimum_phase_rad, phase_delay_s
from loopback.response.propagate import complex_ratio, independent_covariance
from loopback.response.reading import Ratio, RunResponse
from loopback.response.spread import pooled_variance

GAIN_U_DB = 0.002
"""Drift of the gain from one run to the next, standard deviation (common practice: a warmed-up
interface moves 0.001 to 0.003 dB in ten minutes)."""
SHAPE_U_DB = 0.001
"""Drift of the level at 20 kHz against 1 kHz from run to run (judgement)."""
SHAPE_HZ = 20_000.0
_PRIOR_DOF = 4
_COVERAGE = 1.96


def ratio_to_reference(
    run: RunResponse,
    references: Sequence[RunResponse],
    *,
    gain_u_db: float = GAIN_U_DB,
    delay_held: bool = False,
) -> Ratio:
    """Divide a run by the mean of its references.

    Parameters
    ----------
    run : RunResponse
        The pedal run.
    references : sequence of RunResponse
        Coupler runs with the same feed and load, before and after; one or more.
    gain_u_db : float
        Standard uncertainty of the gain of any one run, dB; widened by what the references differ.
    delay_held : bool
        True when a check cable times all of them: the pedal's own delay then stays in the phase.
        False: the delay is free, and what exceeds minimum phase is taken off.

    Returns
    -------
    Ratio
        See there. With a free delay compare its phase only with models that have one too.

    Raises
    ------
    ArgumentError
        If there is no reference.
    """
    if not references:
        raise ArgumentError(
            f"Run {run.run_id} has no reference.", "", "Record one with the coupler in."
        )
    f_hz = run.f_hz
    omega = 2 * np.pi * f_hz
    first = references[0]
    aligned = []
    for reference in references:
        shift = 0.0
        if not delay_held and reference is not first:
            shift = phase_delay_s(
                f_hz,
                reference.h * first.h.conj(),
                np.abs(first.h) ** 2 / first.var,
                reference.delay_s - first.delay_s,
            )
        aligned.append(reference.h * np.exp(1j * omega * shift))
    stack = np.array(aligned)
    base = stack.mean(axis=0)
    count = len(references)
    base_var = sum((r.var for r in references), np.zeros(len(f_hz))) / count**2
    t, covariance = complex_ratio(run.h, base, independent_covariance(run.var, base_var))
    var = np.trace(covariance, axis1=-2, axis2=-1)
    delay_s = run.delay_s - first.delay_s
    delay_s = _excess_delay(f_hz, t, var, delay_s)
    if not delay_held:
        t = t * np.exp(1j * omega * delay_s)
    levels = np.array([_level_db(f_hz, h) for h in stack])
    drift = _widened(gain_u_db, levels)
    u_gain = float(np.hypot(drift * np.sqrt(1 + 1 / count), run.repeat_db / 2))
    shape = np.zeros(len(f_hz))
    if count > 1:
        scaled = stack / 10 ** (levels / 20)[:, None]
        scatter = np.sum(np.abs(scaled / scaled.mean(axis=0) - 1) ** 2, axis=0) / (count - 1)
        shape = pooled_variance(scatter, 2 * (count - 1)) * (1 + 1 / count)
    gain = (u_gain * np.log(10) / 20) ** 2
    floor = np.sqrt(np.maximum(shape, var / np.maximum(np.abs(t) ** 2, 1.0)) / 2 + gain)
    return Ratio(
        run_id=run.run_id,
        reference_ids=tuple(reference.run_id for reference in references),
        f_hz=f_hz,
        t=t,
        var=var,
        u_gain_db=u_gain,
        delay_s=delay_s,
        delay_held=delay_held,
        floor_db=20 * np.log10(_COVERAGE * floor),
        u_shape_db=_shape_doubt(f_hz, stack, levels) * float(np.sqrt(1 + 1 / count)),
    )


def _level_db(f_hz: F64, h: C128) -> float:
    band = (f_hz >= 200) & (f_hz <= 2000)
    return float(np.mean(20 * np.log10(np.maximum(np.abs(h[band]), 1e-300))))


def _shape_doubt(f_hz: F64, stack: C128, levels: F64) -> float:
    """Drift of the treble from run to run: stated, or more where the references show more."""
    band = (f_hz >= 2000) & (f_hz <= SHAPE_HZ)
    growth = (f_hz[band] / SHAPE_HZ) ** 2
    db = 20 * np.log10(np.maximum(np.abs(stack[:, band]), 1e-300)) - levels[:, None]
    return _widened(SHAPE_U_DB, db @ growth / float(growth @ growth))


def _widened(stated: float, seen: F64) -> float:
    """Pool a stated standard deviation, worth a few observations, with what the references show."""
    squares = float(np.sum((seen - seen.mean()) ** 2))
    return float(np.sqrt((_PRIOR_DOF * stated**2 + squares) / (_PRIOR_DOF + len(seen) - 1)))


def _excess_delay(f_hz: F64, t: C128, var: F64, start_s: float) -> float:
    """Delay beyond what the magnitude demands of a minimum-phase circuit."""
    size = np.abs(t)
    usable = size > 3 * np.sqrt(var)
    if np.count_nonzero(usable) < 20:
        return start_s
    steady = np.interp(np.log(f_hz), np.log(f_hz[usable]), size[usable])
    lean = t * np.exp(-1j * minimum_phase_rad(f_hz, steady))
    weight = np.where(usable, size**2 / var, 0.0)
    return phase_delay_s(f_hz, lean, weight, start_s)
