"""The simulated rig: a whole setup without hardware, chosen like any other."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import cast

import msgspec

from loopback.errors import ArgumentError, RigError
from loopback.plan.runs import Position
from loopback.rig.protocol import Recorded, RigFacts, RunRequest
from loopback.simulate.parts import is_part, loose_part
from loopback.simulate.pedal import pedal_names
from loopback.simulate.scenario import Mistake, MistakeKind, Scenario
from loopback.simulate.session import Session
from loopback.simulate.sound import Sound


def simulated_pedals() -> tuple[str, ...]:
    """Names of the pedals that come with the package.

    Returns
    -------
    tuple of str
        Sorted.
    """
    return pedal_names()


def simulated_rig(
    pedal: str | Path,
    seed: int = 1,
    *,
    check_cable: bool = False,
    played: int = 0,
    mistakes: Iterable[str] = (),
) -> SimulatedRig:
    """Set up an ordinary interface and leads with one simulated pedal.

    Parameters
    ----------
    pedal : str or Path
        Name of a pedal of the package, or path of a pedal file.
    seed : int
        Of everything random.
    check_cable : bool
        Whether output 2 is joined to input 2.
    played : int
        Number of runs already played, when an examination is taken up again.
    mistakes : iterable of str
        What the simulated hands do wrong, see `read_mistake`.

    Returns
    -------
    SimulatedRig
        Ready to play.

    Raises
    ------
    ArgumentError
        If there is no such pedal or mistake, or the pedal's file cannot be read.
    """
    made = tuple(read_mistake(text) for text in mistakes)
    scenario = Scenario(pedal, seed=seed, check_cable=check_cable, mistakes=made)
    return SimulatedRig(scenario, played)


def is_loose_part(text: str) -> bool:
    """Tell whether a text names a loose part (``100p``, ``lead:3m``, ``wiggle``), not a pedal.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    bool
        True for what `simulated_part` takes.
    """
    return is_part(text)


def simulated_part(text: str, seed: int = 1) -> SimulatedRig:
    """Set up an ordinary interface and leads with a loose part across the line.

    Parameters
    ----------
    text : str
        ``100p``, ``1M``, ``1M+100p``, ``lead:3m``, ``switch`` or ``wiggle``; the last comes and
        goes while it is measured.
    seed : int
        Of everything random.

    Returns
    -------
    SimulatedRig
        Ready to play.

    Raises
    ------
    ArgumentError
        If the text cannot be read.
    """
    scenario = Scenario(loose_part(text), seed=seed)
    return WiggledRig(scenario) if text == "wiggle" else SimulatedRig(scenario)


def read_mistake(text: str) -> Mistake:
    """Read a mistake: ``resistor-forgotten``, ``coupler-left-in:2``, ``gain-moved:4-6=1.3``.

    Parameters
    ----------
    text : str
        Its kind; the run in which it is made, or the first and the last, else all of them; and a
        number where the kind has one.

    Returns
    -------
    Mistake
        Of the simulator.

    Raises
    ------
    ArgumentError
        If it cannot be read, or there is no such kind.
    """
    match = re.fullmatch(r"([a-z-]+)(?::(\d+)(?:-(\d+))?)?(?:=(-?[\d.]+))?", text)
    if match is None:
        raise ArgumentError(
            f'"{text}" is no mistake.', "", "Write it like coupler-left-in:2 or gain-moved:4-6=1.3."
        )
    kind, first, last, value = match.groups()
    return Mistake(
        cast("MistakeKind", kind),
        int(first or 1),
        int(last or first) if first else None,
        float(value or 0.0),
    )


class SimulatedRig:
    """A rig that solves the circuit of each run and adds what a real setup adds.

    Recordings depend on the scenario, on the runs played before and on nothing else.

    Parameters
    ----------
    scenario : Scenario
        Pedal, interface, leads, mistakes.
    played : int
        Number of runs already played, when an examination is taken up again; both ends of the
        leads then count as plugged anew.

    Raises
    ------
    ArgumentError
        If there is no such pedal, or its file cannot be read.
    """

    def __init__(self, scenario: Scenario, played: int = 0) -> None:
        self._session = Session(scenario, played)

    def facts(self) -> RigFacts:
        """Return what stands on the table."""
        scenario = self._session.scenario
        return RigFacts(
            kind="simulator",
            name=self._session.pedal.title,
            path_channel=0,
            check_channel=1 if scenario.check_cable else None,
            full_scale_dbu=scenario.interface.full_scale_dbu,
            corner_hz=scenario.interface.input_corner_hz or None,
        )

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play one run in one stream and hand over each recording as soon as it is complete.

        Parameters
        ----------
        request : RunRequest
            Hook-up, signal, takes.

        Returns
        -------
        iterator of Recorded
            One per take, then one of the long silence if asked for.

        Raises
        ------
        ArgumentError
            If the number of takes or the silence is negative.
        RigError
            If the interface does not run at that sample rate.
        """
        self._refuse_rate(request)
        sounds = self._session.play(request.label, request.signal, request.takes, request.silence_s)
        return self._recordings(request, sounds)

    def _refuse_rate(self, request: RunRequest) -> None:
        only, asked = self._session.scenario.rate_hz, request.signal.rate_hz
        if only is not None and asked != only:
            raise RigError(
                f"The simulated interface runs at {only} Hz, not at {asked} Hz.",
                "A system that converts in between would change the treble.",
                f"Use a signal at {only} Hz.",
            )

    def _recordings(self, request: RunRequest, sounds: Iterator[Sound]) -> Iterator[Recorded]:
        for sound in sounds:
            yield Recorded(
                "silence" if sound.silence else "sweep",
                sound.rate_hz,
                sound.samples,
                expected_start=sound.expected_start,
            )
        if request.watch is not None:
            heard = self._session.watch(request.label, request.watch, request.signal.rate_hz)
            yield Recorded(request.watch.kind, heard.rate_hz, heard.samples, watch=request.watch)


class WiggledRig(SimulatedRig):
    """A simulated part that somebody wiggles: every take finds it in one of its two states.

    Parameters
    ----------
    scenario : Scenario
        Its pedal has the states of positions ``a`` and ``b``.
    """

    def __init__(self, scenario: Scenario) -> None:
        super().__init__(scenario)
        self._chance = random.Random(scenario.seed)

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play the takes one by one, a quarter of them in the other state; see `SimulatedRig`."""
        if request.label.path != "pedal" or request.takes < 1 or not request.silence_s >= 0:
            return super().play(request)
        self._refuse_rate(request)  # now, not when the first take is asked for
        return self._wiggled(request)

    def _wiggled(self, request: RunRequest) -> Iterator[Recorded]:
        for _ in range(request.takes):
            position: Position = "b" if self._chance.random() < 0.25 else "a"
            label = msgspec.structs.replace(request.label, position=position)
            take = replace(request, label=label, takes=1, silence_s=0.0, watch=None)
            yield from super().play(take)
        if request.silence_s > 0 or request.watch is not None:
            yield from super().play(replace(request, takes=0))
