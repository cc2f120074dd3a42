"""The JSON facts about noise, tones, distortion, change with time, latency and bleed of a run."""

from __future__ import annotations

from typing import Literal

from loopback.report.fact_base import FactRecord, Number


class NoiseOverFact(FactRecord, frozen=True):
    """One noise level over that of the reference.

    Attributes
    ----------
    weighting : {"none", "a", "468"}
        20 Hz to 20 kHz unweighted; A (IEC 61672-1:2013); the network of ITU-R BS.468-4 in rms,
        5.63 dB lower than that has it (AES17-2015).
    difference_db : Number
        Pedal over reference, by power.
    significance : float
        Probability that equal noises differ by less.
    added_dbfs : Number or None
        What the pedal adds by itself; None: hidden by the setup's own.
    added_below_dbfs : float or None
        What that lies below, 95 %.
    """

    weighting: Literal["none", "a", "468"]
    difference_db: Number
    significance: float
    added_dbfs: Number | None
    added_below_dbfs: float | None


class MainsLineFact(FactRecord, frozen=True):
    """One line of the mains series.

    Attributes
    ----------
    order : int
        Multiple of the mains frequency.
    level_dbfs : Number or None
        None: it does not stand out.
    below_dbfs : float or None
        Level that it would need to.
    """

    order: int
    level_dbfs: Number | None
    below_dbfs: float | None


class MainsFact(FactRecord, frozen=True):
    """The mains series of a long silence.

    Attributes
    ----------
    f_hz : Number
        Frequency as found.
    sum_dbfs : Number
        All lines by power.
    lines : tuple of MainsLineFact
        Orders 1 to 40.
    """

    f_hz: Number
    sum_dbfs: Number
    lines: tuple[MainsLineFact, ...]


class ToneFact(FactRecord, frozen=True):
    """One other tone.

    Attributes
    ----------
    f_hz, level_dbfs : Number
        A full-scale sine is 0 dBFS.
    reference_dbfs : float or None
        Level of the same tone with the cable; None: not found there.
    over_reference : bool or None
        True: more than with the cable; False: the setup's own; None: not known.
    only_with_power : bool or None
        None: not known.
    """

    f_hz: Number
    level_dbfs: Number
    reference_dbfs: float | None
    over_reference: bool | None
    only_with_power: bool | None


class FloorFact(FactRecord, frozen=True):
    """Level that a tone would need to be found.

    Attributes
    ----------
    f_hz : tuple of float
        Rising.
    tone_dbfs : tuple of float or None
        At each.
    """

    f_hz: tuple[float, ...]
    tone_dbfs: tuple[float | None, ...]


class HarmonicFact(FactRecord, frozen=True):
    """One order over frequency, amplitude over that of the fundamental.

    Attributes
    ----------
    order : int
        2 to 5.
    middle_db : Number or None
        Mean power, 300 Hz to 2 kHz; None: not above the noise.
    middle_below_db : float or None
        What it lies below, 95 %.
    f_hz : tuple of float
        Exciting frequencies, a third of an octave apart.
    level_db, u_db, below_db : tuple of float or None
        At each; None: not above the noise, or not measured.
    """

    order: int
    middle_db: Number | None
    middle_below_db: float | None
    f_hz: tuple[float, ...]
    level_db: tuple[float | None, ...]
    u_db: tuple[float | None, ...]
    below_db: tuple[float | None, ...]


class LinearityFact(FactRecord, frozen=True):
    """Loud against soft.

    Attributes
    ----------
    level_step_db, second_level_db, over_reference_db, takes_db, sweeps_db : Number or None
        As in `loopback.response.linearity.Linearity`, like the next line.
    over_order : int or None
        Order that `over_reference_db` is about.
    over_at_least : bool
        True: that of the reference lies in the noise, and `over_reference_db` is a lower bound.
    level_dependent, harmonics_raised, charging, silicon : {"yes", "no", "open"}
        Conclusions.
    """

    level_step_db: Number | None
    second_level_db: Number | None
    over_reference_db: Number | None
    over_order: int | None
    over_at_least: bool
    takes_db: Number | None
    sweeps_db: Number | None
    level_dependent: Literal["yes", "no", "open"]
    harmonics_raised: Literal["yes", "no", "open"]
    charging: Literal["yes", "no", "open"]
    silicon: Literal["yes", "no", "open"]


class MovementFact(FactRecord, frozen=True):
    """Change with time.

    Attributes
    ----------
    kind : {"steady", "modulated", "gated", "settling", "unsteady"}
        What was recognised.
    rate_hz, depth_db : Number or None
        Of a modulation.
    sweeps_db, tones_db, gate_db : float or None
        Sweep against sweep, tone against tone, soft tone below loud.
    loud_only : bool
        Only the loud tones changed.
    """

    kind: Literal["steady", "modulated", "gated", "settling", "unsteady"]
    rate_hz: Number | None
    depth_db: Number | None
    sweeps_db: float | None
    tones_db: float | None
    gate_db: float | None
    loud_only: bool


class LatencyFact(FactRecord, frozen=True):
    """Delay of a run.

    Attributes
    ----------
    delay_s : Number
        Against the cable.
    held : bool
        True: by a check cable; False: with the doubt of opening the stream.
    edge_hz : Number or None
        3 dB edge of a converting path.
    converts : {"yes", "no", "open"}
        Whether it converts.
    """

    delay_s: Number
    held: bool
    edge_hz: Number | None
    converts: Literal["yes", "no", "open"]


class BehaviourFact(FactRecord, frozen=True):
    """All of it for one run.

    Attributes
    ----------
    noise : tuple of NoiseOverFact
        Empty without a reference.
    mains : MainsFact or None
        None: no series, or no long silence.
    tones : tuple of ToneFact
        By frequency.
    floor : FloorFact or None
        None without a silence.
    silence_s : float or None
        Length of the silence that tones were looked for in.
    harmonics : tuple of HarmonicFact
        Empty where nothing passes.
    linearity, movement, latency : LinearityFact, MovementFact, LatencyFact or None
        None where they could not be looked for.
    no_latency : str or None
        Why the delay is not known.
    """

    noise: tuple[NoiseOverFact, ...]
    mains: MainsFact | None
    tones: tuple[ToneFact, ...]
    floor: FloorFact | None
    silence_s: float | None
    harmonics: tuple[HarmonicFact, ...]
    linearity: LinearityFact | None
    movement: MovementFact | None
    latency: LatencyFact | None
    no_latency: str | None = None


class BleedLevelFact(FactRecord, frozen=True):
    """Bleed at one frequency.

    Attributes
    ----------
    f_hz : float
        Middle of a third of an octave.
    level_db : Number or None
        Over the signal through the cable; None: it does not stand out.
    below_db : float or None
        What it lies below, 95 %.
    """

    f_hz: float
    level_db: Number | None
    below_db: float | None


class BleedFact(FactRecord, frozen=True):
    """One way across.

    Attributes
    ----------
    kind : {"effect_in_bypass", "bypass_when_engaged"}
        As in `loopback.response.bleed.Bleed`.
    run_ids : tuple of str
        What it rests on.
    levels : tuple of BleedLevelFact
        At 100 Hz, 1 kHz and 10 kHz.
    unplugged : bool
        Whether a run with nothing plugged in bounds the setup's own crosstalk.
    """

    kind: Literal["effect_in_bypass", "bypass_when_engaged"]
    run_ids: tuple[str, ...]
    levels: tuple[BleedLevelFact, ...]
    unplugged: bool
