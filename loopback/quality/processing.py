"""Software and knobs in the way, as the check tones show them: gain control, gain drift."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.response.reading import ToneReading
from loopback.signal.take import MIDDLE_TONE_HZ


def tone_pair_error_db(tones: Sequence[ToneReading]) -> tuple[float, float]:
    """Difference of the two 1 kHz tones beyond the one played.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.

    Returns
    -------
    error_db, u_db : float
        The largest error of the blocks, and its standard uncertainty; zero and infinity without
        a pair.
    """
    worst, u_worst = 0.0, math.inf
    for block in {t.block for t in tones}:
        pair = [t for t in tones if t.block == block and t.f_hz == MIDDLE_TONE_HZ]
        if len(pair) != 2:
            continue
        loud, soft = sorted(pair, key=lambda t: -t.played_dbfs)
        error = (loud.level_dbfs - soft.level_dbfs) - (loud.played_dbfs - soft.played_dbfs)
        if math.isinf(u_worst) or abs(error) > abs(worst):
            worst, u_worst = error, math.hypot(loud.u_level_db, soft.u_level_db)
    return worst, u_worst


def tone_drift_db(tones: Sequence[ToneReading]) -> tuple[float, float]:
    """Largest change of a full-level tone between the blocks of one take.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.

    Returns
    -------
    drift_db, u_db : float
        Later minus earlier with its standard uncertainty; zero and infinity without two blocks.
    """
    loudest = max((t.played_dbfs for t in tones), default=0.0)
    order = {"tones_before": 0, "tones_between": 1, "tones_after": 2}
    worst, u_worst = 0.0, math.inf
    for f_hz in {t.f_hz for t in tones}:
        same = sorted(
            (t for t in tones if t.f_hz == f_hz and t.played_dbfs > loudest - 1.0),
            key=lambda t: order[t.block],
        )
        for earlier, later in itertools.pairwise(same):
            drift = later.level_dbfs - earlier.level_dbfs
            u = math.hypot(earlier.u_level_db, later.u_level_db)
            # A drift that its own noise explains counts for nothing against one that stands out.
            if math.isinf(u_worst) or abs(drift) - 3 * u > abs(worst) - 3 * u_worst:
                worst, u_worst = drift, u
    return worst, u_worst


def heard(tones: Sequence[ToneReading]) -> bool:
    """Tell whether check tones arrive at a level at which they can be judged.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.

    Returns
    -------
    bool
        False for a path that does not pass.
    """
    loudest = max(tones, key=lambda t: t.played_dbfs, default=None)
    return loudest is not None and (
        loudest.level_dbfs > loudest.played_dbfs + limits.TONES_HEARD_DB
    )


def judge_tones(
    tones: Sequence[ToneReading], where: str, *, is_reference: bool
) -> tuple[Finding, ...]:
    """Judge the tone pair and the drift of the check tones.

    A deviation counts only where it is three times its own uncertainty. Where hardly anything
    arrives hum and noise move the tones, and nothing is judged.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.
    where : str
        Run and take.
    is_reference : bool
        With the coupler it is the setup; with a pedal it may be the effect.

    Returns
    -------
    tuple of Finding
        Codes ``gain_control`` or, with a pedal, ``level_dependent`` (good); ``gain_drift``.
    """
    if not heard(tones):
        return ()
    found: list[Finding] = []
    pair, u_pair = tone_pair_error_db(tones)
    drift, u_drift = tone_drift_db(tones)
    grade = limits.TONE_PAIR_DB.grade(pair)
    if grade != "good" and abs(pair) > 3 * u_pair:
        number = f"check tones {20 + pair:.3f} dB apart instead of 20.000"
        if is_reference:
            found.append(
                Finding(
                    "gain_control",
                    grade,
                    number,
                    "Something changes loud and soft differently: automatic gain, a limiter, or"
                    " an overdriven stage.",
                    "Choose the raw or unprocessed input mode and switch effects off.",
                    where,
                )
            )
        else:
            found.append(
                Finding(
                    "level_dependent",
                    "good",
                    number,
                    "Loud and soft do not pass alike: a powered stage is in the path.",
                    "",
                    where,
                )
            )
    grade = limits.TONE_DRIFT_DB.grade(drift)
    if grade != "good" and abs(drift) > 3 * u_drift:
        found.append(
            Finding(
                "gain_drift",
                grade if is_reference or abs(drift) < 3 * limits.TONE_DRIFT_DB.look else "refuse",
                f"the same check tone {drift:+.3f} dB later in the take",
                "The level moved while the take was running.",
                "Leave all knobs alone, check the plugs, and repeat the take.",
                where,
            )
        )
    return tuple(found)
