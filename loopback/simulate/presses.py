"""Presses of a footswitch: when, what contacts do, and what lands on the line; all seeded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.signal.watch import Watch, press_times
from loopback.simulate.press_text import PressModel

Direction = Literal["lit", "dark"]

REACTION_S = 0.25
"""From being asked to pressing; scatters by a fifth of it (judgement)."""


@dataclass(frozen=True, slots=True)
class Pressed:
    """One press as it happened: the truth that an analysis has to find.

    Parameters
    ----------
    at_s : float
        Moment of the first contact change, seconds from the first sample.
    direction : {"lit", "dark"}
        Towards the effect, or towards bypass.
    rest_s : float
        Time since the press before, or since the beginning.
    model : PressModel
        Click and step as they were this time: scatter applied, what had leaked added to the step.
    """

    at_s: float
    direction: Direction
    rest_s: float
    model: PressModel

    @property
    def closed_s(self) -> float:
        """Moment at which the new path is first connected; the pop happens then."""
        return self.at_s + self.model.gap


def plan_presses(
    watch: Watch,
    models: Mapping[str, PressModel],
    first: Direction,
    rng: np.random.Generator,
) -> tuple[Pressed, ...]:
    """Press as asked, a little late and never quite alike.

    Parameters
    ----------
    watch : Watch
        When presses are asked for.
    models : mapping of str to PressModel
        For ``"lit"`` and ``"dark"``; a missing one is a switch that does nothing but switch.
    first : {"lit", "dark"}
        Direction of the first press.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of Pressed
        In order.
    """
    pressed: list[Pressed] = []
    direction, before = first, 0.0
    for asked in press_times(watch):
        late, click, step = rng.standard_normal(3)
        at = float(asked) + REACTION_S * max(0.2, 1 + 0.2 * float(late))
        rest = at - before
        model = models.get(direction, PressModel())
        leaked = model.leak * (1 - float(np.exp(-rest / model.charge)))
        model = replace(
            model,
            click=model.click * (1 + model.scatter * float(click)),
            step=model.step * (1 + model.scatter * float(step)) + leaked,
        )
        pressed.append(Pressed(at, direction, rest, model))
        direction, before = ("dark" if direction == "lit" else "lit"), at
    return tuple(pressed)


def pop_wave(pressed: Sequence[Pressed], n: int, rate_hz: int) -> F64:
    """Voltage that the presses put on the line, before the interface's own high-pass.

    Parameters
    ----------
    pressed : sequence of Pressed
        The presses.
    n : int
        Number of samples.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Volts; a step that stays leaves the line at its new voltage.
    """
    out = np.zeros(n)
    for press in pressed:
        model, start = press.model, round(press.closed_s * rate_hz)
        t: F64 = np.arange(max(0, n - start), dtype=np.float64) / rate_hz
        if model.click:
            short = t[: round(30 * model.decay * rate_hz) + 1]
            out[start : start + len(short)] += model.click * np.exp(-short / model.decay)
        if model.step:
            out[start:] += model.step * (np.exp(-t / model.tail) if model.tail else 1.0)
    return out


def connections(
    pressed: Sequence[Pressed], first: Direction, n: int, rate_hz: int
) -> tuple[F64, F64]:
    """Which path is connected when.

    Parameters
    ----------
    pressed : sequence of Pressed
        The presses.
    first : {"lit", "dark"}
        Direction of the first press.
    n : int
        Number of samples.
    rate_hz : int
        Sample rate.

    Returns
    -------
    bypass, effect : ndarray of float64, shape (n,)
        1 while connected, 0 while not; both during an overlap, neither in a gap.
    """
    starts_lit = first == "dark"
    paths = {"dark": np.zeros(n), "lit": np.zeros(n)}
    paths["lit" if starts_lit else "dark"][:] = 1.0

    def sample(seconds: float) -> int:
        return min(n, max(0, round(seconds * rate_hz)))

    for press in pressed:
        model = press.model
        old, new = paths["lit" if press.direction == "dark" else "dark"], paths[press.direction]
        old[sample(press.at_s + model.overlap) :] = 0.0
        closed = press.at_s if model.overlap else press.closed_s
        new[sample(closed) :] = 1.0
        for number in range(round(model.bounces)):
            opens = closed + (2 * number + 1) * model.bounce
            new[sample(opens) : sample(opens + model.bounce)] = 0.0
        if model.mute:
            muted = slice(sample(press.at_s), sample(press.at_s + model.mute))
            old[muted] = new[muted] = 0.0
    return paths["dark"], paths["lit"]
