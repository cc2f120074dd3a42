"""Every limit the gates use, as data, with where it comes from.

A limit reads: below `good` nothing is said, below `look` the recording is used with wider doubt,
from there on it is kept but not used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from loopback.quality.finding import Grade

_JUDGEMENT = "judgement, to be tuned on real rigs"


@dataclass(frozen=True, slots=True)
class Limit:
    """Two bounds of one number.

    Parameters
    ----------
    good, look : float
        Below `good`: good; below `look`: look; else refuse. ``inf``: that grade has no upper end.
    unit : str
        Of both.
    source : str
        Where the figures come from.
    """

    good: float
    look: float
    unit: str
    source: str = _JUDGEMENT

    def grade(self, value: float) -> Grade:
        """Grade the size of a number; not-a-number is refused.

        Parameters
        ----------
        value : float
            In `unit`; its sign does not count.

        Returns
        -------
        {"good", "look", "refuse"}
            See the class.
        """
        size = abs(value)
        if size < self.good:
            return "good"
        return "look" if size < self.look else "refuse"


# Level and format.
FULL_SCALE_RUN = 3
"""Consecutive samples at full scale that make a clip; one or two can be a true peak."""
FULL_SCALE = 1 - 1.5 / 32768
"""Taken as full scale: within one and a half steps of 16 bits, whatever the file's own format."""
OVER_FULL_SCALE = Limit(1.0 + 1e-6, 8.0, "full scale")
"""Floating-point files may pass full scale unharmed; eight times is no sound any more."""
SILENT_DBFS = -80.0
"""A whole recording whose peak stays below: nothing arrives. Judgement."""
NOTHING_DBFS = -50.0
"""A pedal run in which no sweep is found and whose peak stays below does not pass; with more in it
something else was recorded. Judgement."""
DC_OFFSET = Limit(0.003, 0.2, "full scale")
FLAT_TOP_SHARE = Limit(0.18, 0.25, "")
"""Share of a tone's samples within 2 % of its peak: 0.1275 for a sine (2/π acos 0.98), more when
its tops are cut."""
ZERO_RUN_S = 0.01
"""Exact zeros for so long in a silence: no analogue input does that."""
ZERO_BLOCK = 12
"""Exact zeros in a row in mid signal; a damaged block is 16 samples or more."""

# Clock.
STRETCH = Limit(1e-6, 200e-6, "")
"""Two crystals differ by up to 2 × 50 ppm (common practice); one clock shows none."""
DELAY_STEP_SAMPLES = Limit(0.1, 0.5, "samples")

# Processing.
TONE_PAIR_DB = Limit(0.01, 0.05, "dB")
TONE_DRIFT_DB = Limit(0.003, 0.02, "dB")
TONES_HEARD_DB = -40.0
"""Check tones further below what was played are not judged; a line input behind the resistor
makes -31 dB."""
RIPPLE_DB = Limit(0.03, 0.3, "dB")
TOP_BEND_DB = 1.5
"""Fall of a reference over the last eighth of the sweep beyond that over the eighth before."""
BAND_EDGE_DROP_DB = 30.0
"""Fall within a sixth of an octave that no passive part makes: a digital filter."""
BAND_EDGE_FLOOR_DB = 60.0
"""Below the largest response: what lies deeper is not looked at."""

# Disturbance.
UP_DOWN_DB = Limit(0.005, 0.05, "dB")
UP_DOWN_ALONE_DB = 0.5
"""Of a single take: so large a difference, and in a part of the band only, is no path's own."""
UP_DOWN_SCORE = 8.0
"""Times its own standard deviation; noise alone reaches 4."""
UP_DOWN_SUSPICION_DB = 0.002
"""Smaller differences of the two sweeps are not looked into."""
BLOCK_RESIDUAL = Limit(8.0, 15.0, "× usual")
"""Noise and harmonics reach 3."""

# Noise.
SNR_DB = (60.0, 40.0)
"""Sweep over silence, 100 Hz to 10 kHz, after deconvolution: good above the first, refused below
the second."""
MAINS_DB = Limit(20.0, 40.0, "dB")
"""Mains series over the other noise, 20 Hz to 20 kHz."""
MAINS_BELOW_SWEEP_DB = 50.0
"""Mains is only refused when it also comes this near to the sweep."""

# Between takes and runs.
REPEAT_DB = Limit(0.005, 0.3, "dB")
CONTACT_DB = 10.0
"""Takes of one run further apart than this are not one hook-up: a contact came or went."""
REFERENCE_DRIFT_DB = Limit(0.02, 0.1, "dB")
SETUP_CAPACITANCE_F = Limit(1.5e-12, 5e-12, "F")
LINE_LOAD_OHM = (100e3, 50e3)
"""Input resistance: an instrument input above the first, refused as one below the second."""
SAME_FEED_DB = 0.05
"""Plain and resistor runs nearer than this over the band: the same lead was used for both."""
SAME_FEED_PEDAL_DB = 0.03
"""The same for pedal runs; tighter, because a buffer with 10 MΩ makes the two differ by 0.09 dB."""
LEVEL_OFFSET_DB = 0.05
"""Level of a pedal run from its reference, the same at all frequencies."""
RESISTOR_TREBLE_DB = 0.5
"""Fall from 1 to 15 kHz that a resistor feed makes at least, with any lead on it."""
PLAIN_TREBLE_DB = 3.0
"""Fall from 1 to 15 kHz of no plain lead: 350 ohm with 3 nF of lead make 0.4 dB (computed)."""
PASSIVE_LIFT_DB = 0.05
"""A passive pedal cannot lift the level above the reference; beyond this something is amiss."""
BUFFER_LIFT_DB = 6.0
"""A buffer takes the whole return lead off the source and lifts the treble by about 12 dB."""
HEAVY_LOAD_DB = 3.0
"""A loss through the resistor that also shows with the plain lead, as some hundredths of a dB."""
SILICON_DB = 20.0
"""Harmonics so far over the reference's own: a powered stage is in the path."""
EFFECT_HARMONICS_DB = 10.0
EFFECT_HARMONICS_DBC = -35.0
"""Harmonics over both, the reference's own by the first and the second over the fundamental: an
effect; a bypass buffer stays below."""
EFFECT_COMPRESSION_DB = 1.0
"""Two tones 20 dB apart come nearer to each other, or further apart, by this: an effect."""
EFFECT_LEVEL_DB = 3.0
"""Louder than the reference by this at 200 Hz to 2 kHz: no bypass is."""
EQUAL_DB = 0.002
"""Through the resistor a pedal's own few pF make ten times as much at 15 kHz."""
COUPLER_LEFT_DB = 0.01
"""So near to its reference is the coupler itself: half a picofarad makes as much at 15 kHz."""
TWIN_APART_DB = 0.1
"""So far from its reference, the same pedal without power is a pedal: 5 pF make as much."""
EXACT_INPUT_STEPS = 2.0
"""Largest difference, in steps of 24 bits, between what was played and what came back."""


def snr_grade(snr_db: float) -> Grade:
    """Grade a signal-to-noise ratio.

    Parameters
    ----------
    snr_db : float
        Decibel.

    Returns
    -------
    {"good", "look", "refuse"}
        By `SNR_DB`.
    """
    if math.isnan(snr_db) or snr_db < SNR_DB[1]:
        return "refuse"
    return "good" if snr_db >= SNR_DB[0] else "look"
