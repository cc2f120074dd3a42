"""What the verdict is given about one pedal run, and simple readings of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.plan.runs import RunLabel
from loopback.quality.behaviour import Behaviour
from loopback.quantity import Estimate
from loopback.response.reading import Ratio
from loopback.verdict.limits import HARMONICS_DB


@dataclass(frozen=True, slots=True)
class Evidence:
    """One pedal run.

    Parameters
    ----------
    run_id : str
        Id of the run.
    label : RunLabel
        As it was set and seen.
    ratio : Ratio or None
        Over its reference; None without one.
    delay : Estimate or None
        Of the pedal, seconds; None when the opening of the stream hides it.
    noise : Estimate or None
        Noise over that of the reference, dB.
    harmonics_db : float or None
        Strongest harmonic over the signal itself, dB (-80: clean); None: not measured.
    harmonics_over_reference_db : float or None
        The same over that of the reference, dB; None: not measured.
    polarity : int or None
        +1 or -1 against the reference; None: not known.
    repeat_db : float
        Largest difference between its takes, dB.
    refused : bool
        True when no take of it may be used.
    compresses : bool
        True when loud and soft tones do not pass alike.
    behaviour : Behaviour or None
        Noise, tones, harmonics and change with level and time; None: not looked for.
    """

    run_id: str
    label: RunLabel
    ratio: Ratio | None
    delay: Estimate | None = None
    noise: Estimate | None = None
    harmonics_db: float | None = None
    harmonics_over_reference_db: float | None = None
    polarity: int | None = None
    repeat_db: float = 0.0
    refused: bool = False
    compresses: bool = False
    behaviour: Behaviour | None = None

    @property
    def distorts(self) -> bool:
        """True when it distorts as an effect does and a bypass does not."""
        if self.compresses:
            return True
        if self.harmonics_db is None or self.harmonics_db < HARMONICS_DB.value:
            return False
        over = self.harmonics_over_reference_db
        return over is None or over > 20.0

    @property
    def usable(self) -> bool:
        """True when there is a ratio and no reason against it."""
        return self.ratio is not None and not self.refused


def level_between(ratio: Ratio, low_hz: float, high_hz: float) -> float:
    """Mean level of a band, dB; the nearest single point where the band is empty.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    low_hz : float
        Lower end, hertz.
    high_hz : float
        Upper end, hertz.

    Returns
    -------
    float
        dB against the reference.
    """
    use = (ratio.f_hz >= low_hz) & (ratio.f_hz <= high_hz)
    if not use.any():
        middle = math.sqrt(low_hz * high_hz)
        use = np.arange(len(ratio.f_hz)) == int(np.argmin(np.abs(np.log(ratio.f_hz / middle))))
    return float(np.mean(20 * np.log10(np.maximum(np.abs(ratio.t[use]), 1e-12))))


def level_at(ratio: Ratio, f_hz: float) -> float:
    """Level at a frequency, dB, averaged over a sixth of an octave.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    f_hz : float
        Hertz.

    Returns
    -------
    float
        dB against the reference.
    """
    return level_between(ratio, f_hz * 2 ** (-1 / 12), f_hz * 2 ** (1 / 12))


def middle_level(ratio: Ratio) -> Estimate:
    """Level from 200 Hz to 2 kHz with the doubt of gain drift and noise, dB.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.

    Returns
    -------
    Estimate
        dB.
    """
    use = (ratio.f_hz >= 200.0) & (ratio.f_hz <= 2000.0)
    t, var = ratio.t[use], ratio.var[use]
    noise = 8.686 * float(np.sqrt(np.mean(var / np.maximum(np.abs(t) ** 2, 1e-30)) / len(t)))
    return Estimate(level_between(ratio, 200.0, 2000.0), math.hypot(ratio.u_gain_db, noise), "dB")


def slope_per_decade(ratio: Ratio, low_hz: float = 200.0, high_hz: float = 2000.0) -> float:
    """Rise of the level over a band, dB per decade.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    low_hz, high_hz : float
        Ends of the band, hertz.

    Returns
    -------
    float
        dB per decade.
    """
    use = (ratio.f_hz >= low_hz) & (ratio.f_hz <= high_hz)
    level = 20 * np.log10(np.maximum(np.abs(ratio.t[use]), 1e-12))
    return float(np.polyfit(np.log10(ratio.f_hz[use]), level, 1)[0])
