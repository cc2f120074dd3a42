"""The JSON facts about one examination, and the answer in them."""

from __future__ import annotations

from typing import Literal

from loopback.examination.records import Pedal, Setup
from loopback.report.behaviour_records import BleedFact
from loopback.report.fact_base import FactRecord, Number
from loopback.report.fault_records import FaultFact
from loopback.report.press_records import FootswitchFact, TapFact
from loopback.report.run_records import FindingFact, MatrixFact, PlayerFact, RunFact, WitnessFact
from loopback.signal.take import Signal
from loopback.verdict.conformance import Outcome
from loopback.verdict.result import GradeName, PathClass, PowerClass

FACTS_VERSION: Literal[1] = 1


class AcrossFact(FactRecord, frozen=True):
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


class NetworkFact(FactRecord, frozen=True):
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


class PartInLineFact(FactRecord, frozen=True):
    """A capacitor or a transformer between input and output.

    Attributes
    ----------
    c_farad : Number or None
        The capacitor; None for a transformer.
    main_henry, leak_henry, ratio : Number or None
        Inductance across the line, leakage, and turns n of n:1; None for a capacitor.
    """

    c_farad: Number | None
    main_henry: Number | None
    leak_henry: Number | None
    ratio: Number | None


class BufferFact(FactRecord, frozen=True):
    """Input of an active stage.

    Attributes
    ----------
    g_siemens, c_farad : Number
        Conductance and capacitance of the input.
    gain_db : Number or None
        None without a plain run.
    with_lead : bool
        True: the resistor sat at the interface, and the feeding lead had to be taken off `c_farad`.
    output_ohm : Number or None
        None where one load does not show it.
    """

    g_siemens: Number
    c_farad: Number
    gain_db: Number | None
    with_lead: bool
    output_ohm: Number | None


class PlainBoundsFact(FactRecord, frozen=True):
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


class ConformityFact(FactRecord, frozen=True):
    """A limit of wiring and how the result stands to it.

    Attributes
    ----------
    name : {"in_to_out", "tip_to_sleeve_r", "tip_to_sleeve_c"}
        Which.
    limit : float
        In ohms or farads.
    source : str
        Where the limit comes from.
    probability : float or None
        That it is kept; None: no run shows it.
    outcome : {"met", "not met", "undecided"}
        Beyond a guard of 97.5 % on either side.
    """

    name: str
    limit: float
    source: str
    probability: float | None
    outcome: Outcome


class ExpectedFact(FactRecord, frozen=True):
    """One line of an expectation.

    Attributes
    ----------
    key : str
        As in the file.
    wanted : float or bool
        In base units.
    probability : float or None
        That a value conforms; None for words, and where nothing was measured.
    outcome : {"met", "not met", "undecided"}
        Beyond the same guard.
    """

    key: str
    wanted: float | bool
    probability: float | None
    outcome: Outcome


class ReasonFact(FactRecord, frozen=True):
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


class ResultFact(FactRecord, frozen=True):
    """The three lines, as words and as sentences.

    Attributes
    ----------
    path, alternatives, excluded, power, power_alternatives, families, grades
        As in `loopback.verdict.result.Result`, like the next line.
    bypass_position, certainty, would_tell, not_tested
        A word, a share, and codes.
    consistent : tuple of str
        Circuits that the runs cannot tell apart.
    across : AcrossFact or None
        None without a resistor run, and for an active path.
    network : NetworkFact or None
        For a load behind a coupling capacitor.
    buffer : BufferFact or None
        For an active path.
    series_ohm : Number or None
        In to out; None where it was not resolved.
    plain : PlainBoundsFact or None
        None without a plain run.
    conformity : tuple of ConformityFact
        Limits of wiring, where they apply.
    expected : tuple of ExpectedFact
        Empty where nothing was expected.
    reasons : tuple of ReasonFact
        Evidence, most telling first.
    sentences : tuple of str
        What the screen says.
    in_line : PartInLineFact or None
        None without a capacitor or a transformer in line, and where its values are not known.
    resistor_ohm, setup_farad : Number or None
        Resistor as stated, its tolerance taken as a rectangular distribution, and capacitance of
        the setup as measured; None without a resistor run.
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
    consistent: tuple[str, ...]
    across: AcrossFact | None
    network: NetworkFact | None
    buffer: BufferFact | None
    series_ohm: Number | None
    plain: PlainBoundsFact | None
    conformity: tuple[ConformityFact, ...]
    expected: tuple[ExpectedFact, ...]
    reasons: tuple[ReasonFact, ...]
    would_tell: tuple[str, ...]
    not_tested: tuple[str, ...]
    sentences: tuple[str, ...]
    in_line: PartInLineFact | None = None
    resistor_ohm: Number | None = None
    setup_farad: Number | None = None


class Facts(FactRecord, frozen=True, tag_field="format", tag="loopback-facts"):
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
    matrix : MatrixFact or None
        None without two feeds and two loads.
    witnesses : tuple of WitnessFact
        Whether the path is passive, by runs that show it.
    player : tuple of PlayerFact
        One for each pickup; empty where the path is not known.
    footswitch, taps : FootswitchFact, TapFact or None
        None: nobody pressed, nobody tapped.
    bleed : tuple of BleedFact
        What gets across between effect and bypass; empty where the runs do not show it.
    faults : tuple of FaultFact
        What may be wrong inside; empty for a healthy pedal.
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
    matrix: MatrixFact | None = None
    witnesses: tuple[WitnessFact, ...] = ()
    player: tuple[PlayerFact, ...] = ()
    footswitch: FootswitchFact | None = None
    taps: TapFact | None = None
    bleed: tuple[BleedFact, ...] = ()
    faults: tuple[FaultFact, ...] = ()
