"""What passes between setting up and whoever carries it out; and what it leaves."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass

from loopback.guided.hearing import Heard
from loopback.identify.learned import SetupLearned
from loopback.meter.check_plug import Checked, KnownPart
from loopback.meter.listen import Heard as HeardShort
from loopback.plan.events import Ask, Key, Show, Tell
from loopback.plan.runs import ResistorEnd, RunLabel
from loopback.signal.take import Signal


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is known or wanted before setting up.

    Parameters
    ----------
    name : str
        Of the interface.
    rates_hz : tuple of int
        Sample rates to try, best first.
    output, input : int
        Sockets of the pedal path.
    check_output, check_input : int or None
        A spare pair of sockets; None: there is none.
    check : bool or None
        Whether the check cable is there; None: offer it.
    ceiling_dbfs : float
        The level never rises above it.
    resistor_ohm, resistor_tolerance : float or None
        None: ask.
    resistor_end : {"pedal", "interface"}
        Where it sits.
    with_resistor : bool
        Whether there is a resistor lead at all.
    meter : bool
        Whether a meter will be read.
    meter_v : float or None
        Its reading, volts RMS, of a tone at the working level; None: play the tone and ask.
    check_plug : KnownPart or None
        A known part to check the resistor with; None: not asked for.
    learned : SetupLearned or None
        How steady this setup is, from its earlier references; None: there are none.
    """

    name: str
    rates_hz: tuple[int, ...] = (96_000, 48_000)
    output: int = 1
    input: int = 1
    check_output: int | None = None
    check_input: int | None = None
    check: bool | None = None
    ceiling_dbfs: float = -12.0
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    resistor_end: ResistorEnd = "pedal"
    with_resistor: bool = True
    meter: bool = False
    meter_v: float | None = None
    check_plug: KnownPart | None = None
    learned: SetupLearned | None = None


@dataclass(frozen=True, slots=True)
class AskText:
    """A question that is answered with a value.

    Parameters
    ----------
    question : str
        In the user's words.
    default : str
        What Enter gives.
    """

    question: str
    default: str


@dataclass(frozen=True, slots=True)
class Listen:
    """Play one take quietly and listen.

    Parameters
    ----------
    label : RunLabel
        What is connected.
    level_dbfs : float
        Peak.
    rate_hz : int
        Sample rate.
    silence_s : float
        Long silence after it.
    check : bool
        Whether the check cable is used.
    """

    label: RunLabel
    level_dbfs: float
    rate_hz: int
    silence_s: float = 0.0
    check: bool = False


@dataclass(frozen=True, slots=True)
class ListenShort:
    """Play short sweeps, as the live meter does.

    Parameters
    ----------
    label : RunLabel
        What is connected; a pedal stands for the check plug across the coupler.
    signal : Signal
        A short one.
    takes : int
        How many, in one stream.
    """

    label: RunLabel
    signal: Signal
    takes: int


@dataclass(frozen=True, slots=True)
class PlayTone:
    """Play a steady tone, for a meter.

    Parameters
    ----------
    level_dbfs : float
        Peak.
    rate_hz : int
        Sample rate.
    seconds : float
        How long.
    """

    level_dbfs: float
    rate_hz: int
    seconds: float


@dataclass(frozen=True, slots=True)
class SetupOutcome:
    """What setting up leaves.

    Parameters
    ----------
    level_dbfs : float
        Working level.
    rate_hz : int
        Sample rate.
    unplugged, plain : Heard
        The runs behind it.
    resistor : Heard or None
        None without the resistor lead.
    resistor_ohm, resistor_tolerance : float or None
        Of the resistor lead.
    check : bool
        Whether the check cable is there and heard.
    node_farad, input_ohm : float or None
        Setup capacitance and input resistance; None without the resistor lead.
    full_scale_dbu : float or None
        Of the input; None: everything stays relative.
    checked : Checked or None
        What the check plug said; None without one.
    """

    level_dbfs: float
    rate_hz: int
    unplugged: Heard
    plain: Heard
    resistor: Heard | None = None
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    check: bool = False
    node_farad: float | None = None
    input_ohm: float | None = None
    full_scale_dbu: float | None = None
    checked: Checked | None = None


SetupRequest = Show | Ask | Tell | AskText | Listen | ListenShort | PlayTone
SetupAnswer = Key | str | Heard | tuple[HeardShort, ...] | None
Steps = Generator[SetupRequest, SetupAnswer, SetupOutcome]
"""Yields requests and is sent the answers; returns when everything can be used."""
