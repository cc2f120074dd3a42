"""All that a long silence says beyond its levels: mains lines and other tones, and what is new."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import F64
from loopback.noise.mains_lines import MainsLines, mains_lines, order_of
from loopback.noise.spectrum import whole_spectrum
from loopback.noise.tones import Tone, find_tones, limit_dbfs
from loopback.quantity import Estimate

_LIMIT_POINTS = 48
_SAME_HZ, _SAME_SHARE = 0.5, 1e-3
_WANDERS = 0.03
"""An oscillator without a crystal is found again this far away in another run."""
_CLEAR_DB = 6.0
U_CLOCK = 50e-6 / math.sqrt(3)
"""Relative, of a crystal's 50 ppm (common practice), a limit: JCGM 100:2008, 4.3.7."""


@dataclass(frozen=True, slots=True)
class ToneSurvey:
    """Tones of one silence.

    Parameters
    ----------
    mains : MainsLines or None
        None: no mains series.
    tones : tuple of Tone
        All others, by frequency.
    limit_f_hz, limit_dbfs : ndarray of float64, shape (m,)
        Level that a tone would need to be found.
    seconds : float
        Length of the silence.
    """

    mains: MainsLines | None
    tones: tuple[Tone, ...]
    limit_f_hz: F64
    limit_dbfs: F64
    seconds: float

    def limit_at(self, f_hz: float) -> float:
        """Return the level that a tone at a frequency would need to be found, dBFS."""
        return float(np.interp(math.log(f_hz), np.log(self.limit_f_hz), self.limit_dbfs))


@dataclass(frozen=True, slots=True)
class ToneCompared:
    """One tone of a pedal run beside the runs it is compared with.

    Parameters
    ----------
    tone : Tone
        As found.
    reference_dbfs : float or None
        Level of the same tone with the coupler; None: not found there.
    over_reference : bool or None
        True: the whole 95 % interval of the difference is above zero, or the coupler run would
        have shown it and does not; False: the setup's own; None: without a coupler run, or below
        what it shows.
    only_with_power : bool or None
        True: gone without power; False: there without power as well; None: not known.
    """

    tone: Tone
    reference_dbfs: float | None
    over_reference: bool | None
    only_with_power: bool | None


def survey_tones(x: F64, rate_hz: float) -> ToneSurvey:
    """Find mains lines and other tones in a long silence.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Samples, fraction of full scale.
    rate_hz : float
        Sample rate.

    Returns
    -------
    ToneSurvey
        A silence of digital zeros has no tones.

    Raises
    ------
    ArgumentError
        If it is shorter than half a second.
    """
    spectrum = whole_spectrum(x, rate_hz)
    found = find_tones(spectrum)
    mains = mains_lines(spectrum, found)
    others = tuple(tone for tone in found if order_of(tone.f_hz.value, mains) is None)
    f_hz: F64 = np.geomspace(10.0, 0.45 * rate_hz, _LIMIT_POINTS)
    return ToneSurvey(mains, others, f_hz, limit_dbfs(spectrum, f_hz), spectrum.seconds)


def on_its_clock(survey: ToneSurvey) -> ToneSurvey:
    """Add to the doubt of frequencies that of the interface's clock, which all of them share.

    Parameters
    ----------
    survey : ToneSurvey
        Of `survey_tones`, whose frequencies are those against the sample rate.

    Returns
    -------
    ToneSurvey
        The same tones.
    """

    def widened(f_hz: Estimate) -> Estimate:
        return replace(f_hz, u=math.hypot(f_hz.u, U_CLOCK * f_hz.value))

    mains = survey.mains
    return replace(
        survey,
        mains=None if mains is None else replace(mains, f_hz=widened(mains.f_hz)),
        tones=tuple(replace(tone, f_hz=widened(tone.f_hz)) for tone in survey.tones),
    )


def compare_tones(
    survey: ToneSurvey, references: Sequence[ToneSurvey], without_power: Sequence[ToneSurvey]
) -> tuple[ToneCompared, ...]:
    """Set every tone of a pedal run beside its references and its runs without power.

    Parameters
    ----------
    survey : ToneSurvey
        Of the pedal run.
    references : sequence of ToneSurvey
        Of coupler runs with the same feed and load.
    without_power : sequence of ToneSurvey
        Of the same hook-up without power; empty for a run without power.

    Returns
    -------
    tuple of ToneCompared
        In the order of the tones.
    """
    return tuple(_compared(tone, references, without_power) for tone in survey.tones)


def _compared(
    tone: Tone, references: Sequence[ToneSurvey], without_power: Sequence[ToneSurvey]
) -> ToneCompared:
    f_hz, level = tone.f_hz.value, tone.level_dbfs
    near = max(_SAME_HZ, _SAME_SHARE * f_hz)
    same = [t for survey in references for t in _within(survey.tones, f_hz, near)]
    loudest = max((t.level_dbfs for t in same), key=lambda e: e.value, default=None)
    over: bool | None = None
    if loudest is not None:
        gap = Estimate(level.value - loudest.value, math.hypot(level.u, loudest.u), "dB")
        over = gap.interval()[0] > 0
    elif references:
        over = True if _shown(level.value, references, f_hz) else None
    return ToneCompared(
        tone,
        None if loudest is None else loudest.value,
        over,
        _only_with_power(f_hz, level.value, without_power),
    )


def _only_with_power(
    f_hz: float, level_dbfs: float, without_power: Sequence[ToneSurvey]
) -> bool | None:
    if not without_power:
        return None
    again = [t for s in without_power for t in _within(s.tones, f_hz, _WANDERS * f_hz)]
    if any(t.level_dbfs.value > level_dbfs - _CLEAR_DB for t in again):
        return False
    return True if again or _shown(level_dbfs, without_power, f_hz) else None


def _shown(level_dbfs: float, surveys: Sequence[ToneSurvey], f_hz: float) -> bool:
    """Tell whether every one of these runs would have shown such a tone."""
    return all(level_dbfs > survey.limit_at(f_hz) + _CLEAR_DB for survey in surveys)


def _within(tones: Sequence[Tone], f_hz: float, apart_hz: float) -> list[Tone]:
    return [tone for tone in tones if abs(tone.f_hz.value - f_hz) <= apart_hz]
