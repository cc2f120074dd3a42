"""Make the rig that a command plays through: the simulator, or an interface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import click

from loopback.cli.screen import Screen
from loopback.errors import RigError

if TYPE_CHECKING:
    from loopback.cli.level_meter import LevelMeter
    from loopback.rig.device_settings import DeviceSettings
    from loopback.rig.hosts import Box
    from loopback.rig.protocol import Rig

PREFERRED_HZ = (96_000, 48_000, 44_100)


@dataclass(frozen=True, slots=True)
class Simulated:
    """What stands in for hardware.

    Parameters
    ----------
    pedal : str
        Name of a simulated pedal, or the path of a pedal file.
    seed : int
        Of everything random.
    mistakes : tuple of str
        What the simulated hands do wrong.
    """

    pedal: str
    seed: int = 1
    mistakes: tuple[str, ...] = ()

    def rig(self, *, check_cable: bool = False, played: int = 0) -> Rig:
        """Make the rig.

        Parameters
        ----------
        check_cable : bool
            Whether output 2 is joined to input 2.
        played : int
            Runs already played.

        Returns
        -------
        Rig
            Ready to play.
        """
        from loopback.rig.simulated import simulated_rig

        return simulated_rig(
            self.pedal,
            self.seed,
            check_cable=check_cable,
            played=played,
            mistakes=self.mistakes,
        )


def read_check_cable(text: str | None) -> tuple[int, int] | None:
    """Read ``2:2``: output and input of the check cable.

    Parameters
    ----------
    text : str or None
        As typed; None or ``no``: there is none.

    Returns
    -------
    tuple of int or None
        Output and input.

    Raises
    ------
    click.UsageError
        If it cannot be read.
    """
    if text is None or text.casefold() == "no":
        return None
    output, colon, socket = text.partition(":")
    if not colon or not output.isdecimal() or not socket.isdecimal():
        raise click.UsageError(f'--check-cable {text}: write output and input, such as "2:2".')
    return int(output), int(socket)


def rates_of(settings: DeviceSettings) -> tuple[int, ...]:
    """Sample rates at which an interface can be opened now, best for this work first.

    Parameters
    ----------
    settings : DeviceSettings
        Which interface.

    Returns
    -------
    tuple of int
        At least one.

    Raises
    ------
    RigError
        If none can be used.
    """
    from loopback.rig.device import DeviceRig

    rig = DeviceRig(settings)
    possible = rig.rates()
    chosen = tuple(rate for rate in PREFERRED_HZ if rate in possible)
    chosen += tuple(rate for rate in possible if rate not in chosen)
    if not chosen:
        raise RigError(
            f"{rig.box.name} cannot be opened at any sample rate.",
            "Another program holds it, or it is not ready.",
            "Close other audio programs, plug it in again, and start again.",
        )
    return chosen


def device_rig(settings: DeviceSettings, meter: LevelMeter) -> Rig:
    """Make the rig of an interface.

    Parameters
    ----------
    settings : DeviceSettings
        Which one.
    meter : LevelMeter
        Moves while it plays.

    Returns
    -------
    Rig
        Ready to play.
    """
    from loopback.rig.device import DeviceRig

    return DeviceRig(settings, meter)


def with_spare_input(settings: DeviceSettings, inputs: int) -> DeviceSettings:
    """Listen to a second input as well, if there is one: a lead in the wrong one is then found.

    Parameters
    ----------
    settings : DeviceSettings
        Without a check cable.
    inputs : int
        How many inputs there are.

    Returns
    -------
    DeviceSettings
        For setting up only.
    """
    if inputs < 2 or settings.check_input is not None:
        return settings
    return replace(settings, check_input=2 if settings.input == 1 else 1)


def box_list(screen: Screen, boxes: Sequence[Box], everything: bool) -> None:
    """Write the interfaces of this computer, each once.

    Parameters
    ----------
    screen : Screen
        Where to.
    boxes : sequence of Box
        All that the system lists.
    everything : bool
        Also what is no interface, and every driver.
    """
    usable = [box for box in boxes if box.routes and not box.hidden]
    lines = ["Interfaces on this computer"]
    for number, box in enumerate(usable, start=1):
        route = box.routes[0]
        sockets = f"{route.source.inputs} in, {route.sink.outputs} out"
        lines.append(f"  {number}  {box.name[:38]:<38}  {sockets}, {route.host}")
        if everything:
            lines += [f"       through {other.host}" for other in box.routes[1:]]
    others = [box for box in boxes if box not in usable]
    if everything:
        lines += [f"     {box.name[:38]:<38}  {_why_not(box)}" for box in others]
    more = sum(len(box.entries) for box in boxes) - len(usable)
    if not everything and more > 0:
        plural = "ies are" if more > 1 else "y is"
        lines.append(f"{more} more entr{plural} these through other drivers (--all lists them).")
    screen.note("\n".join(lines))


def _why_not(box: Box) -> str:
    return "the system's own, may convert" if box.hidden else "cannot play and record at once"
