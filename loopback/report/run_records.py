"""The JSON facts about one run: records of plain numbers, each with its unit in its name."""

from __future__ import annotations

from typing import Literal

from loopback.plan.runs import RunLabel
from loopback.report.behaviour_records import BehaviourFact
from loopback.report.fact_base import FactRecord, Number
from loopback.verdict.passing import RunState


class TrebleFact(FactRecord, frozen=True):
    """Level at one frequency against the level at 1 kHz.

    Attributes
    ----------
    f_hz : float
        Frequency.
    level_db : Number
        Against the cable, and against 1 kHz.
    """

    f_hz: float
    level_db: Number


class CornerFact(FactRecord, frozen=True):
    """Where a run has lost so many decibels.

    Attributes
    ----------
    side : {"low", "high"}
        End of the frequency axis.
    drop_db : float
        Such as -3.
    f_hz : float or None
        None: not reached up to `limit_hz`.
    limit_hz : float
        Where the measurement ends on that side.
    at_hz : Number or None
        `f_hz` with its doubt.
    """

    side: Literal["low", "high"]
    drop_db: float
    f_hz: float | None
    limit_hz: float
    at_hz: Number | None = None


class NoiseFact(FactRecord, frozen=True):
    """Noise while nothing is played, 20 Hz to 20 kHz.

    Attributes
    ----------
    unweighted_dbfs, a_weighted_dbfs : Number
        A full-scale sine is 0 dBFS.
    mains_hz : float or None
        50 or 60; None: no such series.
    mains_over_noise_db : float or None
        Power of that series over all other noise.
    weighted_468_dbfs : Number or None
        Through the network of ITU-R BS.468-4 in rms, 5.63 dB lower than that has it: the use of
        AES17-2015.
    mains_over_db : Number or None
        `mains_over_noise_db` with its doubt.
    """

    unweighted_dbfs: Number
    a_weighted_dbfs: Number
    mains_hz: float | None
    mains_over_noise_db: float | None
    weighted_468_dbfs: Number | None = None
    mains_over_db: Number | None = None


class FindingFact(FactRecord, frozen=True):
    """One thing noticed about a recording, a run or all of them.

    Attributes
    ----------
    code, grade, number, meaning, action, where : str
        As in `loopback.quality.finding.Finding`.
    """

    code: str
    grade: Literal["good", "look", "refuse"]
    number: str
    meaning: str
    action: str
    where: str


class RecordingFact(FactRecord, frozen=True):
    """One file that the numbers come from.

    Attributes
    ----------
    file : str
        Inside the folder.
    sha256 : str
        Of its bytes.
    origin : str
        Name under which it was imported.
    """

    file: str
    sha256: str
    origin: str


class RunFact(FactRecord, frozen=True):
    """One run and what it shows against its reference.

    Attributes
    ----------
    id : str
        Of the run.
    label : RunLabel
        What was done and seen.
    recordings : tuple of RecordingFact
        Files.
    takes : int
        How many takes were used; 0: none could be.
    reference_ids : tuple of str
        Reference runs it is compared with; empty: none.
    repeat_db : float or None
        Largest level difference between its takes.
    level_db : Number or None
        200 Hz to 2 kHz, against the cable.
    treble : tuple of TrebleFact
        At 5, 10, 15 and 20 kHz.
    corners : tuple of CornerFact
        Of -0.1, -1 and -3 dB.
    polarity : int or None
        +1 or -1 against the cable.
    delay_s : Number or None
        Against the cable; None: hidden by the opening of the stream.
    noise : NoiseFact or None
        Of the silence.
    noise_over_reference_db : Number or None
        A-weighted, against the cable.
    behaviour : BehaviourFact or None
        Tones, distortion, change with time, latency.
    state : {"passes", "altered", "open", "short"} or None
        Whether it lets a signal through: altered as an effect does, open, or held to ground; None
        for a reference, and where it cannot be told.
    """

    id: str
    label: RunLabel
    recordings: tuple[RecordingFact, ...]
    takes: int
    reference_ids: tuple[str, ...]
    repeat_db: float | None
    level_db: Number | None
    treble: tuple[TrebleFact, ...]
    corners: tuple[CornerFact, ...]
    polarity: int | None
    delay_s: Number | None
    noise: NoiseFact | None
    noise_over_reference_db: Number | None
    behaviour: BehaviourFact | None = None
    state: RunState | None = None


class PlayerFact(FactRecord, frozen=True):
    """What the pedal in bypass changes for one pickup, 3 m of lead and an ordinary amplifier.

    Attributes
    ----------
    pickup : str
        Which kind.
    most_db, low_db : Number
        Largest change of level up to 10 kHz, and the change at 200 Hz.
    most_hz : float
        Where the largest is; 10 kHz also where it still grows there.
    peak_before_hz, peak_hz, peak_before_db, peak_db : Number or None
        Resonance without and with the pedal; None where there is no peak.
    most_at_hz : Number or None
        `most_hz` with its doubt; None where the change still grows at 10 kHz.
    peak_rise_db : Number or None
        The peak's height with the pedal over that without.
    """

    pickup: str
    most_db: Number
    most_hz: float
    low_db: Number
    peak_before_hz: Number | None
    peak_before_db: Number | None
    peak_hz: Number | None
    peak_db: Number | None
    most_at_hz: Number | None = None
    peak_rise_db: Number | None = None


class WitnessFact(FactRecord, frozen=True):
    """``AD - BC`` around 1 kHz: 1 for a passive path, 0 behind a buffer.

    Attributes
    ----------
    value : Number
        Dimensionless.
    basis : str
        ``"second_load"`` or ``"reversed"``.
    run_ids : tuple of str
        Runs that it rests on.
    """

    value: Number
    basis: str
    run_ids: tuple[str, ...]


class MatrixFact(FactRecord, frozen=True):
    """What the chain matrix says around 1 kHz; the curves are in the exported files.

    Attributes
    ----------
    gain_db : Number
        Without load.
    in_siemens, in_farad : Number
        Into the input, the output open.
    out_ohm : Number
        Into the output, fed without impedance; of a passive path, what is in series.
    second_load_ohm : Number
        The second load as measured at the coupler.
    run_ids : tuple of str
        Pedal runs that it rests on.
    """

    gain_db: Number
    in_siemens: Number
    in_farad: Number
    out_ohm: Number
    second_load_ohm: Number
    run_ids: tuple[str, ...]
