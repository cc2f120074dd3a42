"""One sitting with the meter: runs on the coupler for zero, then readings without an end."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from typing import Literal

import msgspec

from loopback.errors import RigError
from loopback.identify.learned import SetupLearned
from loopback.meter.listen import Heard, hear, joined
from loopback.meter.reading import Reading, Zero, find_zero, read
from loopback.plan.runs import RunLabel
from loopback.response.reading import RunResponse
from loopback.rig.protocol import Rig, RunRequest
from loopback.signal.take import Signal, layout_of

PLAIN_TAKES, ZERO_TAKES, LIVE_TAKES = 4, 8, 40
"""Sweeps on the plain lead, for zero, and in one stream of readings."""


@dataclass(slots=True)
class Bench:
    """Rig and leads of a sitting.

    Parameters
    ----------
    rig : Rig
        Plays.
    signal : Signal
        A short one.
    resistor_ohm, tolerance : float
        Of the resistor lead.
    input_ohm : float or None
        Known input resistance; None: not known.
    in_place : bool
        True: what is read stands in the place of the coupler.
    learned : SetupLearned or None
        How steady this setup is, from its earlier references; None: there are none.
    """

    rig: Rig
    signal: Signal
    resistor_ohm: float
    tolerance: float
    input_ohm: float | None = None
    in_place: bool = False
    learned: SetupLearned | None = None
    _plain: RunResponse | None = field(default=None, init=False)

    @property
    def step_s(self) -> float:
        """Seconds from one reading to the next, without what the rig adds."""
        return layout_of(self.signal).length / self.signal.rate_hz

    def take_plain(self) -> None:
        """Play through plain lead and coupler: it fixes the scale.

        Raises
        ------
        RigError
            If nothing comes back.
        """
        label = RunLabel("coupler", "plain")
        heard = list(self._heard(label, PLAIN_TAKES))
        self._plain = joined(heard, self.signal, "plain")
        if find_zero(self._plain, None, self.resistor_ohm, self.tolerance) is None:
            raise _silence()

    def take_zero(self) -> Zero:
        """Play through resistor lead and coupler.

        Returns
        -------
        Zero
            For all readings that follow.

        Raises
        ------
        RigError
            If nothing comes back.
        """
        label = self._label("coupler")
        resistor = joined(list(self._heard(label, ZERO_TAKES)), self.signal, "zero")
        zero = find_zero(
            resistor, self._plain, self.resistor_ohm, self.tolerance, self.input_ohm, self.learned
        )
        if zero is None:
            raise _silence()
        return zero

    def readings(self, zero: Zero) -> Generator[Reading, None, None]:
        """Read until nobody asks for more.

        Parameters
        ----------
        zero : Zero
            From `take_zero`.

        Yields
        ------
        Reading
            One for each sweep; time counts sweeps, so that it is the same on every computer.
        """
        number = 0
        while True:
            for heard in self._heard(self._label("pedal"), LIVE_TAKES):
                number += 1
                yield read(heard, zero, number * self.step_s, in_place=self.in_place)

    def _label(self, path: Literal["coupler", "pedal"]) -> RunLabel:
        label = RunLabel(
            path, "resistor", resistor_ohm=self.resistor_ohm, resistor_tolerance=self.tolerance
        )
        if path == "coupler":
            return label
        return msgspec.structs.replace(label, power="on", position="a")

    def _heard(self, label: RunLabel, takes: int) -> Iterator[Heard]:
        channel = self.rig.facts().path_channel or 0
        for recorded in self.rig.play(RunRequest(label, self.signal, takes)):
            if recorded.samples is not None and recorded.kind == "sweep":
                yield hear(recorded.samples[:, channel], self.signal)


def _silence() -> RigError:
    return RigError(
        "Next to nothing comes back.",
        "Leads and coupler are not joined, the input gain is down, or it is another socket.",
        "Look at the hook-up, then start again.",
    )
