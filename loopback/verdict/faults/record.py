"""A wiring fault as a record: code, weight, evidence as numbers; and what the rules look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from loopback.identify.setup import SetupFound
from loopback.response.bleed import Bleed
from loopback.switching.result import PressFigures, TapFigures
from loopback.verdict.evidence import Evidence
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import Expected, Key
from loopback.verdict.passing import RunState
from loopback.verdict.result import Result

FaultCode = Literal[
    "jumper_missing",
    "columns_swapped",
    "jacks_swapped",
    "effect_dead",
    "ground_tab",
    "effect_shorted",
    "jack_shorting",
    "plug_half_home",
    "not_connected",
    "no_power",
    "switch_burnt",
    "switch_stuck",
    "weak_joint",
    "pulldown_wrong",
    "pulldown_missing",
    "pulldown_twice",
    "pulldown_fitted",
    "input_left",
    "output_left",
    "leakage",
    "screened_lead",
    "screen_open",
    "ground_missing",
    "supply_hum",
    "input_open",
    "supply_whine",
    "supply_comb",
    "lamp_pop",
    "effect_gain",
    "capacitor_leak",
    "electrolytic",
    "joint_opens",
    "jack_dirty",
]
MeantCode = Literal["mute", "fitted_in_line", "fitted_across", "shielded", "mute_part"]
"""What a design may do on purpose that looks the same."""
ClueCode = Literal[
    "open",
    "short",
    "short_under",
    "plays",
    "same_unpowered",
    "differs_unpowered",
    "alike",
    "in_line",
    "not_steady",
    "bends",
    "across",
    "across_over",
    "behind",
    "capacitance",
    "a_tenth",
    "beside",
    "drifts",
    "expected",
    "hum",
    "hum_unpowered",
    "hum_powered_only",
    "crosstalk",
    "tones",
    "comb",
    "noise_powered",
    "rises",
    "pop_once",
    "pop_grows",
    "pop_tail",
    "drops_out",
    "moves",
    "crackles",
    "gap_varies",
]
Place = Literal["bypass", "other", "both", "only"]
"""Of the switch; only: there is no footswitch, or one position was looked at."""


@dataclass(frozen=True, slots=True)
class Clue:
    """One piece of evidence for a fault, to be written out by `sentences_faults`.

    Parameters
    ----------
    code : str
        Which sentence.
    numbers : dict
        Named numbers and words for it.
    """

    code: ClueCode
    numbers: dict[str, float | str]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault that the data carry.

    Parameters
    ----------
    code : str
        The likeliest cause.
    weight : float
        How far the evidence goes, 0 to 1. It ranks, by judgement; it is no probability.
    clues : tuple of Clue
        Its evidence, most telling first.
    consistent_with : tuple of str
        Other faults with the same evidence, likeliest first.
    meant : tuple of str
        What a design may do on purpose that looks the same.
    expected : str or None
        Line of the build sheet that it goes against; None: none.
    """

    code: FaultCode
    weight: float
    clues: tuple[Clue, ...]
    consistent_with: tuple[FaultCode, ...] = ()
    meant: tuple[MeantCode, ...] = ()
    expected: Key | None = None

    @property
    def by_design(self) -> bool:
        """True where a design is as likely the cause as any fault; with a sheet none is meant."""
        return self.code in ("effect_dead", "effect_shorted") and "mute" in self.meant


@dataclass(frozen=True, slots=True)
class Case:
    """Everything the rules look at.

    Parameters
    ----------
    result : Result
        The three lines.
    evidence : sequence of Evidence
        All runs, references too.
    setup : SetupFound or None
        None without any reference.
    bleed : tuple of Bleed
        What gets across.
    footswitch, taps : PressFigures, TapFigures or None
        None: nobody pressed, nobody tapped.
    sheet : Expectation or None
        What the build sheet promises; None: there is none.
    expected : tuple of Expected
        The result held to it.
    noticed : frozenset of str
        Codes of what the gates found beyond good.
    """

    result: Result
    evidence: Sequence[Evidence]
    setup: SetupFound | None = None
    bleed: tuple[Bleed, ...] = ()
    footswitch: PressFigures | None = None
    taps: TapFigures | None = None
    sheet: Expectation | None = None
    expected: tuple[Expected, ...] = ()
    noticed: frozenset[str] = frozenset()

    @property
    def runs(self) -> tuple[Evidence, ...]:
        """Usable pedal runs, in to out, into the instrument input, at full level."""
        return tuple(
            e
            for e in self.evidence
            if e.usable
            and (e.label.path, e.label.load, e.label.direction)
            == ("pedal", "instrument", "forward")
            and not e.label.level_db
        )

    def of(self, position: str, *, powered: bool) -> tuple[Evidence, ...]:
        """Return the runs of one position and power; power nobody spoke of counts as on."""
        return tuple(
            e
            for e in self.runs
            if (e.label.position or "none") == position and (e.label.power != "off") == powered
        )

    def unmet(self, *keys: Key) -> Expected | None:
        """Return the first of these lines of the build sheet that is surely not met."""
        return next((e for e in self.expected if e.key in keys and e.outcome == "not met"), None)


DEAD: tuple[RunState, ...] = ("open", "short")
PASSING: tuple[RunState, ...] = ("passes", "altered")
