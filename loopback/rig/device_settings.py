"""Which interface, driver and sockets a run uses, and what that choice is worth."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.errors import RigError
from loopback.rig.hosts import WASAPI, Box, Route, is_exact
from loopback.signal.take import DEFAULT_CEILING_DBFS


@dataclass(frozen=True, slots=True)
class DeviceSettings:
    """Which interface, and which of its sockets.

    Parameters
    ----------
    device : str
        Number or words, see `loopback.rig.hosts.choose_box`; empty: the best one found.
    driver : str
        Part of a driver's name; empty: the best one of that box.
    output, input : int
        Sockets of the pedal path, from 1 as printed on the box.
    check_output, check_input : int or None
        Sockets of the check cable; None: there is none.
    ceiling_dbfs : float
        Nothing is ever played above this peak level.
    exclusive : bool
        Ask for exclusive access where the driver knows it.
    full_scale_dbu : float or None
        Level of a full-scale sine at the input; None: not known.
    patience_s : float
        How long the sound may stand still before the run is given up.
    """

    device: str = ""
    driver: str = ""
    output: int = 1
    input: int = 1
    check_output: int | None = None
    check_input: int | None = None
    ceiling_dbfs: float = DEFAULT_CEILING_DBFS
    exclusive: bool = True
    full_scale_dbu: float | None = None
    patience_s: float = 2.0


def choose_route(box: Box, settings: DeviceSettings) -> Route:
    """Choose the driver, and see that it offers the sockets.

    Parameters
    ----------
    box : Box
        The interface.
    settings : DeviceSettings
        What was asked for.

    Returns
    -------
    Route
        The best one that fits.

    Raises
    ------
    RigError
        If the box has no such driver or no such socket; the message says what there is.
    """
    wanted = settings.driver.casefold()
    fitting = [route for route in box.routes if wanted in route.host.casefold()]
    if not fitting:
        there = ", ".join(route.host for route in box.routes)
        raise RigError(
            f'{box.name} has no driver called "{settings.driver}".', "", f"There is: {there}."
        )
    route = fitting[0]
    asked: tuple[tuple[str, int | None, int], ...] = (
        ("input", settings.input, route.source.inputs),
        ("input", settings.check_input, route.source.inputs),
        ("output", settings.output, route.sink.outputs),
        ("output", settings.check_output, route.sink.outputs),
    )
    for side, socket, there_are in asked:
        if socket is not None and not 1 <= socket <= there_are:
            raise RigError(
                f"{box.name} has no {side} {socket}; its driver offers {there_are}.",
                "",
                "Choose other sockets with --in and --out.",
            )
    return route


def access_sentence(host: str, *, exclusive: bool) -> str:
    """Say whether the system can touch the samples on their way.

    Parameters
    ----------
    host : str
        The driver.
    exclusive : bool
        Whether exclusive access is asked for or was given.

    Returns
    -------
    str
        One or two sentences for the screen and for the record.
    """
    if not is_exact(host):
        return f"Exclusive access: no. {host} may convert the sample rate unseen."
    if host != WASAPI:
        return f"Samples pass unconverted ({host})."
    if exclusive:
        return "Exclusive access: yes."
    return (
        "Exclusive access: no. The system may mix in its own sounds and convert; set this sample"
        " rate in the device's sound settings and close other programs."
    )
