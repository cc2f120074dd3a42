"""Software and knobs in the way: gain control, filters, monitoring, gates."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.level import longest_run
from loopback.response.reading import TakeReading, ToneReading
from loopback.signal.layout import Segment, SegmentName
from loopback.signal.take import MIDDLE_TONE_HZ, Signal, layout_of


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


def band_edge_hz(f_hz: F64, h: C128) -> float | None:
    """Find a cliff at the top of a response that only a digital filter makes.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Logarithmic grid.
    h : ndarray of complex128, shape (k,)
        Response.

    Returns
    -------
    float or None
        Where the response begins to fall; None: it has no cliff below the end of the sweep.
    """
    level = 20 * np.log10(np.maximum(np.abs(h), 1e-12))
    step = round(math.log(2) / 6 / math.log(float(f_hz[1] / f_hz[0])))
    step = max(1, step)
    top = f_hz > 3000.0
    if np.count_nonzero(top) <= step:
        return None
    fall = level[:-step] - level[step:]
    fall[~top[:-step]] = -np.inf
    at = int(np.argmax(fall))
    if fall[at] < limits.BAND_EDGE_DROP_DB:
        return None
    before = level[max(0, at - step)]
    inside = np.flatnonzero(level[at:] < before - 6.0)
    return float(f_hz[at + int(inside[0])]) if len(inside) else float(f_hz[at])


def judge_band_edge(
    reading: TakeReading, signal: Signal, where: str, *, is_reference: bool
) -> tuple[Finding, ...]:
    """Look for the cliff of lossy compression or of a conversion of the sample rate.

    Parameters
    ----------
    reading : TakeReading
        Of the take.
    signal : Signal
        What was played.
    where : str
        Run and take.
    is_reference : bool
        A digital pedal has such an edge of its own; a coupler has none.

    Returns
    -------
    tuple of Finding
        Codes ``lossy``, ``resampled``, ``band_edge``.
    """
    mean = (reading.up + reading.down) / 2
    edge = band_edge_hz(reading.f_hz, mean)
    if edge is None and is_reference and top_bend_db(reading.f_hz, mean) > limits.TOP_BEND_DB:
        edge = 0.92 * signal.f2_hz
    if edge is None or edge > 0.98 * signal.f2_hz:
        return ()
    number = f"nothing above {edge / 1000:.1f} kHz"
    if not is_reference:
        return (
            Finding(
                "band_edge",
                "look",
                number,
                "A digital pedal does this; so does a file that was compressed or converted.",
                "Make sure that reference and pedal were recorded and exported in the same way.",
                where,
            ),
        )
    if edge < 19_000.0:
        return (
            Finding(
                "lossy",
                "refuse",
                number,
                "This is the mark of lossy compression, such as a voice note or an MP3.",
                "Send WAV or FLAC, from the recorder itself.",
                where,
            ),
        )
    return (
        Finding(
            "resampled",
            "refuse",
            number,
            "The sample rate was converted on the way: a system mixer, or an export.",
            f"Set device, program and export all to {signal.rate_hz / 1000:g} kHz.",
            where,
        ),
    )


def top_bend_db(f_hz: F64, h: C128) -> float:
    """Fall over the last eighth of the sweep beyond the fall over the eighth before it.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Logarithmic grid.
    h : ndarray of complex128, shape (k,)
        Response.

    Returns
    -------
    float
        dB; a resistor and a lead make at most 0.3.
    """
    level = 20 * np.log10(np.maximum(np.abs(h), 1e-12))
    at = np.interp(np.log(np.array([0.75, 0.86, 0.97]) * f_hz[-1]), np.log(f_hz), level)
    return float((at[1] - at[2]) - (at[0] - at[1]))


def judge_gating(x: F64, start: int, signal: Signal, bits: int, where: str) -> tuple[Finding, ...]:
    """Look for exact zeros: in the silence a gate or a digital return, in the sweep a lost buffer.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel of the recording.
    start : int
        First sample of the take; negative when its head was cut.
    signal : Signal
        What was played.
    bits : int
        What `loopback.quality.level.used_bits` found; with 16 bits or fewer a quiet silence is
        rightly full of zeros and is not judged.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``gated``, ``zero_block``.
    """
    layout = layout_of(signal)
    found: list[Finding] = []
    longest = 0
    silences: tuple[SegmentName, ...] = ("lead", "rest", "tail") if bits > 16 else ()
    sweeps: tuple[SegmentName, ...] = ("up", "down")
    for name in silences:
        _, run = longest_run(_part(x, start, layout.segment(name)) == 0.0)
        longest = max(longest, run)
    if longest >= limits.ZERO_RUN_S * signal.rate_hz:
        found.append(
            Finding(
                "gated",
                "refuse",
                f"{longest / signal.rate_hz * 1000:.0f} ms of exact zeros in the silence",
                "An analogue input always has some noise: a noise gate is at work, or a digital"
                " return of the interface was recorded instead of an input.",
                "Choose the analogue input and switch noise suppression off.",
                where,
            )
        )
        return tuple(found)
    for name in sweeps:
        segment = layout.segment(name)
        sweep = _part(x, start, segment)
        at, run = longest_run(sweep == 0.0)
        around = np.abs(sweep[max(0, at - 4 * run) : at + 5 * run])
        if run >= limits.ZERO_BLOCK and float(np.max(around, initial=0.0)) > 1e-3:
            seconds = (max(0, start + segment.start) - start + at) / signal.rate_hz
            found.append(
                Finding(
                    "zero_block",
                    "refuse",
                    f"{run} samples of exact zero at {seconds:.2f} s, in mid sweep",
                    "Sound was interrupted for a moment; nothing was shifted by it.",
                    "Close other programs, choose a larger buffer, and repeat the take.",
                    where,
                )
            )
    return tuple(found)


def _part(x: F64, start: int, segment: Segment) -> F64:
    return x[max(0, start + segment.start) : max(0, start + segment.stop)]
