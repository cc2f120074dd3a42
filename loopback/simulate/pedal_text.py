"""Reading the text of a pedal file; the format is described in :mod:`loopback.simulate.pedal`."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import StringIO

from loopback.circuit.netlist import Element, parse_elements, strip_comment
from loopback.errors import ArgumentError, NetlistError
from loopback.quantity import parse_value
from loopback.simulate.pedal_parts import PedalText, StateText
from loopback.simulate.press_text import read_joint, read_press
from loopback.simulate.state_sound import KINDS

FOOTSWITCHES = (
    "none",
    "mechanical-latching",
    "relay-latching",
    "relay-non-latching",
    "electronic",
)
"""What the footswitch is, for the table of power and position."""

LAST = "last"
"""Table entry: stays in the state it was in when power was last on."""

_POWERS = ("on", "off")
_POSITIONS = ("a", "b")
_NUMBERS = {"softclip": "volt", "delay": "second", "band": "Hz", "noise": "volt"}
_PROSE = re.compile(r"\s*\.(?:title|about|family)\b")
"""Directives whose text may hold a semicolon, which elsewhere begins a comment."""
_NAME = re.compile(r"[a-z][a-z0-9-]*")


def read_pedal_text(text: str, source: str) -> PedalText:
    """Read the text of a pedal file.

    Parameters
    ----------
    text : str
        Contents of the file.
    source : str
        Its name, for messages.

    Returns
    -------
    PedalText
        Complete and consistent: every state that the table names exists.

    Raises
    ------
    NetlistError
        If anything in it cannot be read; the message names file and line.
    """
    return _Reader(source).read(text)


def state_elements(pedal: PedalText, state: str, source: str) -> tuple[Element, ...]:
    """Elements of one state, the common ones first.

    Parameters
    ----------
    pedal : PedalText
        From :func:`read_pedal_text`.
    state : str
        Name of one of its states.
    source : str
        Name of the file, for messages.

    Returns
    -------
    tuple of Element
        In the order of the file.

    Raises
    ------
    NetlistError
        If a line cannot be read or a name is used twice within the state.
    """
    return parse_elements([*pedal.common, *pedal.states[state].elements], source)


class _Reader:
    """Walks through the lines once; a section is where element lines go."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.pedal = PedalText()
        self.number = 0
        self.section = ""
        self.state: StateText | None = None
        self.table_lines: dict[tuple[str, str], int] = {}
        self.directives: dict[str, Callable[[str], None]] = {
            "title": lambda rest: self._word("title", rest),
            "about": lambda rest: self._word("about", rest),
            "family": lambda rest: self._word("family", rest),
            "footswitch": self._footswitch,
            "bypass": lambda rest: self._word("bypass", rest),
            "common": self._common,
            "state": self._state,
            "unpowered": self._unpowered,
            "table": self._table,
            "press": self._press,
            "tap": lambda rest: self.pedal.joints.append(read_joint(rest)),
            **{name: self._number_reader(name) for name in _NUMBERS},
            **{name: self._sound_reader(name) for name in KINDS},
        }

    def read(self, text: str) -> PedalText:
        # Lines as an editor counts them: not split at form feeds or Unicode separators.
        for self.number, raw in enumerate(StringIO(text, newline=None), start=1):
            line = raw.strip() if _PROSE.match(raw) else strip_comment(raw)
            if line.startswith("."):
                word, _, rest = line[1:].partition(" ")
                action = self.directives.get(word)
                if action is None:
                    known = ", ".join(f".{name}" for name in self.directives)
                    raise self._error(f'".{word}" is no directive.', "", f"There are: {known}.")
                self._act(action, rest.strip())
            elif line:
                self._plain(line)
        self._check_whole()
        return self.pedal

    def _act(self, action: Callable[[str], None], rest: str) -> None:
        try:
            action(rest)
        except NetlistError:
            raise
        except ArgumentError as error:
            raise self._error(error.found, error.means, error.action) from error

    def _error(self, found: str, means: str = "", action: str = "", line: int = 0) -> NetlistError:
        where = f"{self.source}, line {line or self.number or 1}"
        return NetlistError(f"{where}: {found}", means, action)

    def _word(self, name: str, rest: str) -> None:
        if not rest:
            raise self._error(f".{name} is empty.", "", f"Write: .{name} and what it is.")
        if name in self.pedal.words:
            raise self._error(f".{name} stands twice.", "", "Leave one out.")
        self.pedal.words[name] = rest

    def _footswitch(self, rest: str) -> None:
        if rest not in FOOTSWITCHES:
            raise self._error(
                f'"{rest}" is no kind of footswitch.', "", f"Use one of {', '.join(FOOTSWITCHES)}."
            )
        self._word("footswitch", rest)

    def _common(self, rest: str) -> None:
        if rest:
            raise self._error(f'".common" takes no word; found "{rest}".')
        self.section, self.state = "common", None

    def _state(self, rest: str) -> None:
        if not _NAME.fullmatch(rest) or rest == LAST:
            raise self._error(
                f'"{rest}" cannot name a state.',
                f'Small letters, digits and hyphens; "{LAST}" has its own meaning.',
                "Write: .state bypass",
            )
        if rest in self.pedal.states:
            raise self._error(f"State {rest} stands twice.", "", "Rename one.")
        self.state = StateText(self.number)
        self.pedal.states[rest] = self.state
        self.section = "state"

    def _table(self, rest: str) -> None:
        if rest:
            raise self._error(f'".table" takes no word; found "{rest}".')
        self.section, self.state = "table", None

    def _unpowered(self, rest: str) -> None:
        if self.state is None:
            raise self._error(".unpowered stands outside a state.", "", "Move it below .state.")
        if self.state.unpowered or not rest:
            raise self._error(".unpowered names exactly one state.", "", "Write: .unpowered dead")
        self.state.unpowered = rest

    def _press(self, rest: str) -> None:
        direction, model = read_press(rest)
        if direction in self.pedal.presses:
            raise self._error(f".press {direction} stands twice.", "", "Leave one out.")
        self.pedal.presses[direction] = model

    def _number_reader(self, name: str) -> Callable[[str], None]:
        def read(rest: str) -> None:
            if self.state is None:
                raise self._error(f".{name} stands outside a state.", "", "Move it below .state.")
            if name in self.state.numbers:
                raise self._error(f".{name} stands twice in this state.", "", "Leave one out.")
            value = parse_value(rest, _NUMBERS[name])
            if not 0 < value < float("inf"):
                raise self._error(
                    f".{name} is {value:g}.", "It must be above zero.", "Leave it out for none."
                )
            self.state.numbers[name] = value

        return read

    def _sound_reader(self, name: str) -> Callable[[str], None]:
        def read(rest: str) -> None:
            if self.state is None:
                raise self._error(f".{name} stands outside a state.", "", "Move it below .state.")
            self.state.sound.read(name, rest)

        return read

    def _plain(self, line: str) -> None:
        match self.section:
            case "common":
                self.pedal.common.append((self.number, line))
            case "state" if self.state is not None:
                self.state.elements.append((self.number, line))
            case "table":
                self._table_row(line)
            case _:
                raise self._error(
                    f'"{line}" stands before any section.', "", "Put .common or .state above it."
                )

    def _table_row(self, line: str) -> None:
        words = line.split()
        if len(words) != 3 or words[0] not in _POWERS or words[1] not in (*_POSITIONS, "none"):
            raise self._error(
                f'"{line}" is no row of the table.',
                "A row is: on or off; a, b or none; the name of a state.",
                "Write it like: off b last",
            )
        key = (words[0], words[1])
        if key in self.pedal.table:
            raise self._error(f"{words[0]} {words[1]} stands twice in the table.")
        if words[0] == "on" and words[2] == LAST:
            raise self._error(
                f'With power on a state is needed; found "{LAST}".',
                f'"{LAST}" means: as it was when power was last on.',
                "Name a state.",
            )
        self.pedal.table[key] = words[2]
        self.table_lines[key] = self.number

    def _check_whole(self) -> None:
        pedal = self.pedal
        for name in ("title", "about", "family", "footswitch", "bypass"):
            if name not in pedal.words:
                raise self._error(f"The file has no .{name}.", "", f"Add: .{name} and what it is.")
        positions = ("none",) if pedal.words["footswitch"] == "none" else _POSITIONS
        wanted = {(power, position) for power in _POWERS for position in positions}
        for key in sorted(wanted - pedal.table.keys()):
            raise self._error(f"The table has no row for {key[0]} {key[1]}.", "", "Add it.")
        for key in sorted(pedal.table.keys() - wanted):
            raise self._error(
                f"{key[0]} {key[1]} does not fit the footswitch {pedal.words['footswitch']}.",
                "Positions are a and b with a footswitch, none without.",
                line=self.table_lines[key],
            )
        for key, name in pedal.table.items():
            if name != LAST and name not in pedal.states:
                raise self._error(f"There is no state {name}.", line=self.table_lines[key])
        if pedal.words["bypass"] not in pedal.states:
            raise self._error(f"There is no state {pedal.words['bypass']} for .bypass to name.")
        used = set(pedal.table.values())
        for state in pedal.states.values():
            if state.unpowered:
                used.add(state.unpowered)
                if state.unpowered not in pedal.states:
                    raise self._error(f"There is no state {state.unpowered}.", line=state.line)
        unused = pedal.states.keys() - used
        for name in sorted(unused):
            raise self._error(
                f"The table never uses state {name}.",
                "",
                "Use it or leave it out.",
                line=pedal.states[name].line,
            )
