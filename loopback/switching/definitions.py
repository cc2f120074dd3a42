"""What each figure of footswitch and tapping means, in one line."""

from __future__ import annotations

DEFINITIONS = {
    "peak": "largest magnitude 20 Hz to 20 kHz, 4 times oversampled (ITU-R BS.1770-5, annex 2)",
    "a_weighted_peak": "the same of the wave under the A curve (IEC 61672-1)",
    "burst_level": "rms level of a burst of 50 ms with the pop's energy, 20 Hz to 20 kHz",
    "energy_s": "time from 5 to 95 % of the pop's energy",
    "decay_s": "until the wave stays below a tenth of its peak, or six times the noise's rms",
    "dc_step": "exponential extrapolated to the press, through the input's high-pass",
    "gap_s": "tone more than 20 dB below the weaker path, all openings of one press together",
    "bounces": "how often the contact opens again",
    "overlap_s": "both paths connected",
    "silence_99": "exceeded by one window of silence in a hundred; a pop is what lies above it",
    "median, worst": "over the presses of one direction, those after a long rest left out",
    "intervals": "95 %, without the doubt of the input's stated full-scale level",
}
