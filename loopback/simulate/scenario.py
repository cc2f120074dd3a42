"""One invented evening at the bench: pedal, interface, leads, and what goes wrong in which run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, get_args

import msgspec

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.plan.runs import Position, RunLabel
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.pedal import PedalFile

MistakeKind = Literal[
    "coupler-left-in",
    "digital-return",
    "direct-monitoring",
    "effect-engaged",
    "exchanged",
    "gain-moved",
    "line-input",
    "power-left-on",
    "power-missing",
    "rate-label",
    "resistor-at-interface",
    "resistor-forgotten",
    "resistor-left-in",
    "wrong-channel",
]

_OTHER_POSITION: dict[Position | None, Position] = {None: "b", "a": "b", "b": "a", "none": "none"}


@dataclass(frozen=True, slots=True)
class Mistake:
    """Something the user does otherwise than asked, in runs `first` to `last`.

    ========================= ===================================================================
    kind                      what really happens
    ========================= ===================================================================
    ``coupler-left-in``       the coupler still joins the leads in a pedal run
    ``digital-return``        a digital input that returns what is played, bit for bit
    ``direct-monitoring``     the input is heard at the output, `value` dB, 1.2 ms later
    ``effect-engaged``        the footswitch is in its other position
    ``exchanged``             the coupler where the pedal was asked for, and the other way round
    ``gain-moved``            the input gain stands `value` dB higher
    ``line-input``            the line input in place of the instrument input
    ``power-left-on``         the pedal still has power where none was asked for
    ``power-missing``         no power arrives where it was asked for
    ``rate-label``            the recording says `value` Hz
    ``resistor-at-interface`` the resistor sits at the interface end of the lead
    ``resistor-forgotten``    the plain lead where the resistor lead was asked for
    ``resistor-left-in``      the resistor lead where the plain lead was asked for
    ``wrong-channel``         the return lead is in input 2, the check cable, if any, in input 1
    ========================= ===================================================================

    Parameters
    ----------
    kind : str
        One of the table.
    first : int
        Number of the first run it concerns, from 1.
    last : int or None
        Number of the last; None: all that follow.
    value : float
        See the table; 0 where it has no number.
    """

    kind: MistakeKind
    first: int = 1
    last: int | None = None
    value: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in get_args(MistakeKind):
            raise ArgumentError(
                f'There is no mistake "{self.kind}".', "", f"There are: {get_args(MistakeKind)}."
            )

    def concerns(self, run: int) -> bool:
        """Tell whether it is made in that run."""
        return self.first <= run and (self.last is None or run <= self.last)


@dataclass(frozen=True, slots=True)
class Damage:
    """One recording is damaged on its way.

    Parameters
    ----------
    run : int
        Number of the run, from 1.
    take : int
        Number of the take, from 1; 0: the long silence.
    apply : callable
        From samples of shape (n, channels) to samples; see `loopback.simulate.damage`.
    """

    run: int
    take: int
    apply: Callable[[F64], F64]


@dataclass(frozen=True, slots=True)
class Actual:
    """What is really connected and set in one run.

    Parameters
    ----------
    label : RunLabel
        What the label would say if it told the truth.
    gain_db : float
        How much higher the gain stands than in other runs.
    monitoring_db : float or None
        Gain of direct monitoring; None: off.
    digital_return : bool
        The input returns what is played.
    wrong_channel : bool
        Inputs 1 and 2 are exchanged.
    rate_label_hz : int or None
        Sample rate that the recording says; None: the true one.
    """

    label: RunLabel
    gain_db: float = 0.0
    monitoring_db: float | None = None
    digital_return: bool = False
    wrong_channel: bool = False
    rate_label_hz: int | None = None


@dataclass(frozen=True, slots=True)
class Scenario:
    """Everything the simulated rig needs to know.

    Parameters
    ----------
    pedal : str, Path or PedalFile
        Name of a pedal of the package, path of a pedal file, or a pedal already read.
    interface : InterfaceModel
        The interface.
    leads : Leads
        Leads, coupler, resistor.
    seed : int
        Of everything random.
    check_cable : bool
        Whether output 2 is joined to input 2.
    rate_hz : int or None
        The only sample rate that the interface runs at; None: any.
    mistakes : tuple of Mistake
        What the user does otherwise than asked.
    damages : tuple of Damage
        What happens to recordings.

    Raises
    ------
    ArgumentError
        If the seed is negative.
    """

    pedal: str | Path | PedalFile
    interface: InterfaceModel = field(default_factory=InterfaceModel)
    leads: Leads = field(default_factory=Leads)
    seed: int = 1
    check_cable: bool = False
    rate_hz: int | None = None
    mistakes: tuple[Mistake, ...] = ()
    damages: tuple[Damage, ...] = ()

    def __post_init__(self) -> None:
        if self.seed < 0:
            raise ArgumentError(f"A seed of {self.seed} was given; it cannot be negative.")

    def actual(self, label: RunLabel, run: int) -> Actual:
        """Apply the mistakes of one run to what was asked for.

        Parameters
        ----------
        label : RunLabel
            What was asked for.
        run : int
            Number of the run, from 1.

        Returns
        -------
        Actual
            What is really there.
        """
        actual = Actual(label)
        for mistake in self.mistakes:
            if mistake.concerns(run):
                actual = _apply(mistake, actual)
        return actual

    def damaged(self, samples: F64, run: int, take: int) -> F64:
        """Apply the damages of one recording.

        Parameters
        ----------
        samples : ndarray of float64, shape (n, channels)
            As recorded.
        run, take : int
            Which one; take 0 is the long silence.

        Returns
        -------
        ndarray of float64, shape (m, channels)
            As it arrives.
        """
        for damage in self.damages:
            if (damage.run, damage.take) == (run, take):
                samples = damage.apply(samples)
        return samples


def _apply(mistake: Mistake, actual: Actual) -> Actual:
    label = actual.label
    match mistake.kind:
        case "coupler-left-in":
            return _relabel(actual, path="coupler") if label.path == "pedal" else actual
        case "exchanged":
            other = {"coupler": "pedal", "pedal": "coupler", "unplugged": "unplugged"}
            return _relabel(actual, path=other[label.path])
        case "effect-engaged":
            return _relabel(actual, position=_OTHER_POSITION[label.position])
        case "line-input":
            return _relabel(actual, load="line")
        case "power-left-on":
            return _relabel(actual, power="on") if label.power == "off" else actual
        case "power-missing":
            return _relabel(actual, power="off") if label.power == "on" else actual
        case "resistor-at-interface":
            return _relabel(actual, resistor_end="interface")
        case "resistor-forgotten":
            return _relabel(actual, feed="plain")
        case "resistor-left-in":
            return _relabel(actual, feed="resistor")
        case "gain-moved":
            return replace(actual, gain_db=actual.gain_db + mistake.value)
        case "direct-monitoring":
            return replace(actual, monitoring_db=mistake.value)
        case "digital-return":
            return replace(actual, digital_return=True)
        case "wrong-channel":
            return replace(actual, wrong_channel=True)
        case "rate-label":
            return replace(actual, rate_label_hz=round(mistake.value))


def _relabel(actual: Actual, **changes: str) -> Actual:
    return replace(actual, label=msgspec.structs.replace(actual.label, **changes))
