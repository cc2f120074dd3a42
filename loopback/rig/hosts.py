"""Which driver entries are one box, and which of them is the way to use it.

A system lists one interface once per driver, and on Windows inputs and outputs apart, with names
that the oldest driver cuts at 31 letters. Here these entries become boxes, each listed once, with
its routes in order: exact and exclusive drivers first, those that convert behind one's back last.
Pure functions on plain records; nothing here knows the audio library.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from loopback.errors import RigError

ALSA, JACK, CORE_AUDIO = "ALSA", "JACK Audio Connection Kit", "Core Audio"
ASIO, WASAPI, WDM_KS = "ASIO", "Windows WASAPI", "Windows WDM-KS"
DIRECT_SOUND, MME = "Windows DirectSound", "MME"

_ORDER = (ASIO, WASAPI, CORE_AUDIO, ALSA, JACK, WDM_KS)
"""Best first; all others come after, DirectSound and MME last."""
_LAST = (DIRECT_SOUND, MME)
_CUT = 31
"""Letters that MME keeps of a name."""
_HARDWARE = re.compile(r"\s*\(hw:(\d+)(?:,\d+)?\)$")
_COMMON = {"asio", "audio", "device", "driver", "in", "input", "out", "output", "usb", "the", "of"}
_RETURNS = re.compile(r"loop\s?back|stereo mix|what u hear|monitor of|digital|s/?pdif|adat", re.I)


@dataclass(frozen=True, slots=True)
class DriverEntry:
    """One line of the audio library's device list.

    Parameters
    ----------
    index : int
        Its number there.
    name, host : str
        As the library gives them.
    inputs, outputs : int
        Channels.
    rate_hz : float
        The rate it is set to now.
    """

    index: int
    name: str
    host: str
    inputs: int
    outputs: int
    rate_hz: float


@dataclass(frozen=True, slots=True)
class Route:
    """One way to reach a box: a driver, with the entry to record from and the one to play to.

    Parameters
    ----------
    host : str
        The driver.
    source, sink : DriverEntry
        Entry with the inputs, entry with the outputs; the same one where a driver has both in one.
    """

    host: str
    source: DriverEntry
    sink: DriverEntry


@dataclass(frozen=True, slots=True)
class Box:
    """One interface as it stands on the table.

    Parameters
    ----------
    name : str
        Longest name that any driver gives it.
    routes : tuple of Route
        Full-duplex ways to reach it, best first; empty: it cannot play and record at once.
    entries : tuple of DriverEntry
        All its lines in the library's list.
    hidden : bool
        True for what is no box: a system's mapper or default, a converting or software device.
    """

    name: str
    routes: tuple[Route, ...]
    entries: tuple[DriverEntry, ...]
    hidden: bool = False


def list_boxes(entries: Iterable[DriverEntry]) -> tuple[Box, ...]:
    """Gather driver entries into boxes.

    Parameters
    ----------
    entries : iterable of DriverEntry
        The library's whole list.

    Returns
    -------
    tuple of Box
        In the order in which a user should see them: boxes, then hidden ones.
    """
    rows = [entry for entry in entries if entry.inputs or entry.outputs]
    full_names = {_device_name(e.name) for e in rows if e.host != MME and e.host != ASIO}
    groups: dict[tuple[str, bool, str], list[DriverEntry]] = {}
    for entry in sorted(rows, key=lambda e: (e.host == ASIO, e.index)):
        hidden = _is_hidden(entry, rows)
        name = entry.name if hidden else _box_name(entry, full_names)
        card = match[1] if (match := _HARDWARE.search(entry.name)) else ""
        groups.setdefault((name, hidden, card), []).append(entry)
    named: Counter[str] = Counter()
    boxes: list[Box] = []
    for (name, hidden, _), members in groups.items():
        named[name] += 1
        own = name if named[name] == 1 else f"{name} ({named[name]})"  # two of the same kind
        boxes.append(_box(own, hidden, members))
    return tuple(sorted(boxes, key=lambda b: (b.hidden, not b.routes, b.entries[0].index)))


def choose_box(boxes: Sequence[Box], words: str = "") -> Box:
    """Choose a box by its number in the list or by words of its name.

    Parameters
    ----------
    boxes : sequence of Box
        From `list_boxes`.
    words : str
        A number from 1, or words that all occur in one name only, in any case and order; a whole
        name always wins. Empty: the first box.

    Returns
    -------
    Box
        One that can play and record at once.

    Raises
    ------
    RigError
        If there is no box at all, none fits, or several fit; the message lists them.
    """
    usable = [box for box in boxes if box.routes]
    shown = [box for box in usable if not box.hidden]
    wanted = words.strip()
    if not usable:
        raise RigError(
            "No audio interface that can play and record was found.",
            "It is unplugged, switched off, or its driver is missing.",
            "Plug it in and start again; a first try without one: add --simulate NAME.",
        )
    if not wanted:
        return (shown or usable)[0]
    if wanted.isdecimal():
        if not 1 <= int(wanted) <= len(shown):
            raise RigError(
                f"There is no interface number {wanted}.", "", f"Choose {_candidates(shown)}."
            )
        return shown[int(wanted) - 1]
    for among in (shown, usable):
        whole = [box for box in among if box.name.casefold() == wanted.casefold()]
        fitting = whole or [box for box in among if _fits(box, wanted)]
        if len(fitting) == 1:
            return fitting[0]
        if fitting:
            raise RigError(
                f'"{wanted}" fits {len(fitting)} interfaces.',
                "",
                f"Add a word, or choose {_candidates(fitting)}.",
            )
    raise RigError(f'No interface is called "{wanted}".', "", f"There is {_candidates(shown)}.")


def is_exact(host: str) -> bool:
    """Tell whether a driver passes samples on unconverted, where it is given exclusive access.

    Parameters
    ----------
    host : str
        Name of the driver.

    Returns
    -------
    bool
        False: the system may resample, mix or process.
    """
    return host in _ORDER


def _candidates(boxes: Sequence[Box]) -> str:
    if not boxes:
        return "none (--all lists the system's own devices)"
    return " or ".join(f'{number}: "{box.name}"' for number, box in enumerate(boxes, 1))


def _fits(box: Box, words: str) -> bool:
    names = " ".join([box.name, *(entry.name for entry in box.entries)]).casefold()
    return all(word in names for word in words.casefold().split())


def _device_name(name: str) -> str:
    """Name of the box in an entry's name: what stands in the last brackets, or before a colon."""
    bare = _HARDWARE.sub("", name)
    if bare != name:
        return bare.split(":")[0].strip()
    match = re.search(r"\((.+?)\)?$", bare)
    return (match[1] if match else bare).strip()


def _end_name(name: str) -> str:
    """Name of the socket pair in an entry's name: what `_device_name` leaves."""
    bare = _HARDWARE.sub("", name)
    return bare.split(":")[-1] if bare != name else bare.split("(")[0]


def _box_name(entry: DriverEntry, full_names: set[str]) -> str:
    name = _device_name(entry.name)
    if entry.host == MME and len(entry.name) >= _CUT:
        longer = sorted(full for full in full_names if full.startswith(name))
        return longer[0] if longer else name
    if entry.host in (ASIO, WDM_KS) and name not in full_names:
        words = _own_words(name)
        best = max(sorted(full_names), key=lambda full: len(words & _own_words(full)), default="")
        return best if words & _own_words(best) else name
    return name


def _own_words(name: str) -> set[str]:
    return set(re.findall(r"\w+", name.casefold())) - _COMMON


def _is_hidden(entry: DriverEntry, rows: Sequence[DriverEntry]) -> bool:
    """Tell whether an entry is the system's own: mapper, default, or an ALSA plugin."""
    if entry.host == ALSA:
        return not _HARDWARE.search(entry.name)
    if entry.host in _LAST:
        # Their first entries are the mapper or the primary driver, named in the user's language;
        # an endpoint carries its box in brackets, or is known to a better driver by the same name.
        others = {row.name for row in rows if row.host not in _LAST}
        return "(" not in entry.name and entry.name not in others
    if entry.host == WDM_KS:
        full = {_device_name(row.name) for row in rows if row.host in (WASAPI, DIRECT_SOUND)}
        return bool(full) and _box_name(entry, full) not in full
    return False


def _box(name: str, hidden: bool, members: Sequence[DriverEntry]) -> Box:
    hosts = {entry.host for entry in members}
    routes = [route for host in hosts if (route := _route(host, members)) is not None]
    return Box(
        name,
        tuple(sorted(routes, key=_rank)),
        tuple(sorted(members, key=lambda e: e.index)),
        hidden,
    )


def _route(host: str, members: Sequence[DriverEntry]) -> Route | None:
    """Pair the entries of one driver: one with both, else the first real input and output."""
    mine = [entry for entry in members if entry.host == host]
    analogue = [entry for entry in mine if not _RETURNS.search(_end_name(entry.name))] or mine
    both = [entry for entry in analogue if entry.inputs and entry.outputs]
    sources = both or [entry for entry in analogue if entry.inputs]
    sinks = both or [entry for entry in analogue if entry.outputs]
    return Route(host, sources[0], sinks[0]) if sources and sinks else None


def _rank(route: Route) -> tuple[int, int]:
    if route.host in _LAST:
        return len(_ORDER) + 1 + _LAST.index(route.host), route.source.index
    place = _ORDER.index(route.host) if route.host in _ORDER else len(_ORDER)
    return place, route.source.index
