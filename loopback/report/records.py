"""The JSON facts: records of plain numbers, each with its unit in its name."""

from __future__ import annotations

from typing import Literal

import msgspec

from loopback.examination.records import Pedal, Setup
from loopback.plan.runs import RunLabel
from loopback.signal.take import Signal
from loopback.verdict.result import GradeName, PathClass, PowerClass

FACTS_VERSION: Literal[1] = 1


class _Facts(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Base: frozen, and unknown fields are refused."""


class Number(_Facts, frozen=True):
    """A value in the unit that the field's name ends in, with its doubt.

    Attributes
    ----------
    value : float or None
        Best estimate; None: not finite, nothing is known.
    u : float or None
        Standard uncertainty.
    low95, high95 : float or None
        Interval that covers 95 %.
    """

    value: float | None
    u: float | None
    low95: float | None
    high95: float | None


class TrebleFact(_Facts, frozen=True):
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


class CornerFact(_Facts, frozen=True):
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
    """

    side: Literal["low", "high"]
    drop_db: float
    f_hz: float | None
    limit_hz: float


class NoiseFact(_Facts, frozen=True):
    """Noise while nothing is played, 20 Hz to 20 kHz.

    Attributes
    ----------
    unweighted_dbfs, a_weighted_dbfs : Number
        A full-scale sine is 0 dBFS.
    mains_hz : float or None
        50 or 60; None: no such series.
    mains_over_noise_db : float or None
        Power of that series over all other noise.
    """

    unweighted_dbfs: Number
    a_weighted_dbfs: Number
    mains_hz: float | None
    mains_over_noise_db: float | None


class FindingFact(_Facts, frozen=True):
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


class RecordingFact(_Facts, frozen=True):
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


class RunFact(_Facts, frozen=True):
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


class AcrossFact(_Facts, frozen=True):
    """What lies across the line.

    Attributes
    ----------
    c_farad, g_siemens : Number
        Tip to sleeve; never bounded, a negative capacitance means an active stage.
    residual_db : float or None
        What a plain R and C cannot explain.
    resistor_ohm : float
        Feed resistor used as the standard.
    setup_c_farad : float
        Setup capacitance.
    """

    c_farad: Number
    g_siemens: Number
    residual_db: float | None
    resistor_ohm: float
    setup_c_farad: float


class NetworkFact(_Facts, frozen=True):
    """A load that reaches the line through a capacitor.

    Attributes
    ----------
    r_ohm, coupling_farad, c_farad : Number
        Resistor, the capacitor in front of it, and plain capacitance beside them.
    residual_db : float or None
        What this cannot explain either.
    """

    r_ohm: Number
    coupling_farad: Number
    c_farad: Number
    residual_db: float | None


class BufferFact(_Facts, frozen=True):
    """Input of an active stage.

    Attributes
    ----------
    g_siemens, c_farad : Number
        Conductance and capacitance of the input.
    gain_db : Number or None
        None without a plain run.
    with_lead : bool
        True: `c_farad` contains the feeding lead, because the resistor sat at the interface.
    """

    g_siemens: Number
    c_farad: Number
    gain_db: Number | None
    with_lead: bool


class PlainBoundsFact(_Facts, frozen=True):
    """What the plain lead alone excludes, 95 %, one-sided.

    Attributes
    ----------
    series_over_ohm, shunt_under_ohm, c_over_farad, flat_to_hz : float or None
        In to out more than, tip to sleeve less than, tip to sleeve more than; flat up to. None:
        not finite, nothing is excluded.
    """

    series_over_ohm: float | None
    shunt_under_ohm: float | None
    c_over_farad: float | None
    flat_to_hz: float | None


class ReasonFact(_Facts, frozen=True):
    """One piece of evidence.

    Attributes
    ----------
    code : str
        Which.
    numbers : dict
        Its numbers and words.
    """

    code: str
    numbers: dict[str, float | str | None]


class ResultFact(_Facts, frozen=True):
    """The three lines, as words and as sentences.

    Attributes
    ----------
    path, alternatives, excluded, power, power_alternatives, families, grades
        As in `loopback.verdict.result.Result`, like the next line.
    bypass_position, certainty, would_tell, not_tested
        A word, a share, and codes.
    across : AcrossFact or None
        None without a resistor run.
    network : NetworkFact or None
        For a load behind a coupling capacitor.
    buffer : BufferFact or None
        For an active path.
    series_ohm : Number or None
        In to out; None where it was not resolved.
    plain : PlainBoundsFact or None
        None without a plain run.
    reasons : tuple of ReasonFact
        Evidence, most telling first.
    sentences : tuple of str
        What the screen says.
    """

    path: PathClass
    alternatives: tuple[PathClass, ...]
    excluded: tuple[PathClass, ...]
    power: PowerClass
    power_alternatives: tuple[PowerClass, ...]
    families: tuple[str, ...]
    grades: tuple[GradeName, ...]
    bypass_position: str | None
    certainty: float | None
    across: AcrossFact | None
    network: NetworkFact | None
    buffer: BufferFact | None
    series_ohm: Number | None
    plain: PlainBoundsFact | None
    reasons: tuple[ReasonFact, ...]
    would_tell: tuple[str, ...]
    not_tested: tuple[str, ...]
    sentences: tuple[str, ...]


class Facts(_Facts, frozen=True, tag_field="format", tag="loopback-facts"):
    """Everything known about one examination.

    Attributes
    ----------
    version : int
        Of this format.
    program : str
        Version of the program that computed it.
    created : str
        When the examination was begun, ISO 8601.
    pedal : Pedal
        Without the private note.
    setup : Setup
        Interface and resistor.
    signal : Signal
        What was played.
    conditions : str
        As noted.
    result : ResultFact
        The answer.
    references, pedal_runs : tuple of RunFact
        In the order in which they were made.
    findings : tuple of FindingFact
        What was noticed.
    """

    version: Literal[1]
    program: str
    created: str
    pedal: Pedal
    setup: Setup
    signal: Signal
    conditions: str
    result: ResultFact
    references: tuple[RunFact, ...]
    pedal_runs: tuple[RunFact, ...]
    findings: tuple[FindingFact, ...]
