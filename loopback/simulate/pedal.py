"""Pedals as text files: what is on the line for each power and footswitch position.

A pedal file is a short text (``pedals/*.cir`` in this package, or a user's own)::

    .title Harbour Bell
    .about Clean boost; a three-pole footswitch takes the whole effect off the line.
    .family hard-wired
    .footswitch mechanical-latching
    .bypass bypass

    .common                          elements that every state has
    Cci IN 0 6p                      see loopback.circuit.netlist for the lines
    Cco OUT 0 6p

    .state bypass
    Rsw IN OUT 0.05

    .state engaged
    E1 ...
    .softclip 1.2
    .noise 40n

    .state dead
    Cx IN OUT 1p

    .table
    on  a bypass
    on  b engaged
    off a bypass
    off b dead

``.title``, ``.about``, ``.family`` (free words for the kind of circuit), ``.footswitch`` and
``.bypass`` (the state its builder means as bypass) are needed. Nodes are ``IN`` and ``OUT`` (tips
of the jacks), ``0`` (ground), and any others. ``*`` at the start of a line begins a comment, and so
does ``;`` anywhere but in title, about and family. Within a state, beside its elements:

- ``.softclip 1.2``: the signal at OUT is limited softly to that many volts, ``L tanh(v / L)``;
- ``.delay 1.5m``: extra delay in seconds, as of a converter;
- ``.band 20k``: upper band edge in hertz, as of a converter;
- ``.noise 40n``: white noise that the state adds at OUT, V/√Hz, beyond its thermal noise;
- ``.tone``, ``.hum``, ``.bend``, ``.clamp``, ``.tremolo``, ``.gate``: whine, hum, harmonics, diodes
  into a supply that is off, and what moves (`loopback.simulate.state_sound`).

Anywhere, what pressing and tapping do (words and units: `loopback.simulate.press_text`)::

    .press lit click 3m decay 2m gap 4m     towards the effect; volts at the interface's input
    .press dark step 10m gap 3m             towards bypass
    .tap at 2.5 ohm 20k lasts 30m           a joint at OUT lets go, once per line

The table names a state for each power (``on``, ``off``) and position (``a``: as found, ``b``: after
one more press; ``none`` for a pedal without footswitch). With power off, ``last`` means that the
switch stays where it was when power was last on: the pedal is in the state it was in, or in the one
which that state names with ``.unpowered dead``. Footswitches: ``none``, ``mechanical-latching``,
``relay-latching``, ``relay-non-latching``, ``electronic``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from importlib import resources
from pathlib import Path

from loopback.circuit.netlist import Element
from loopback.errors import ArgumentError, NetlistError
from loopback.simulate.pedal_parts import decode
from loopback.simulate.pedal_text import LAST, read_pedal_text, state_elements
from loopback.simulate.press_text import Joint, PressModel
from loopback.simulate.state_sound import SILENT, StateSound


@dataclass(frozen=True, slots=True)
class PedalState:
    """What stands between the jacks at one moment.

    Parameters
    ----------
    name : str
        Name of the state in its file.
    elements : tuple of Element
        The two-port between ``IN`` and ``OUT``.
    softclip_v : float or None
        Level, volts at OUT, at which it limits softly (``L tanh(v / L)``); None: linear.
    delay_s : float
        Delay beyond that of the netlist.
    band_edge_hz : float or None
        Upper band edge; None: none but that of the netlist.
    noise_v_rthz : float
        White noise added at OUT, V/√Hz, beyond the thermal noise of the netlist.
    unpowered : str
        State that this one becomes where the table says ``last``; empty: stays the same.
    sound : StateSound
        What it adds and bends.
    """

    name: str
    elements: tuple[Element, ...]
    softclip_v: float | None = None
    delay_s: float = 0.0
    band_edge_hz: float | None = None
    noise_v_rthz: float = 0.0
    unpowered: str = ""
    sound: StateSound = SILENT


@dataclass(frozen=True, slots=True)
class PedalFile:
    """One simulated pedal.

    Parameters
    ----------
    title : str
        Its name, as on the box.
    about : str
        One line on what it is.
    family : str
        Kind of bypass circuit, in words.
    footswitch : str
        One of :data:`loopback.simulate.pedal_text.FOOTSWITCHES`.
    bypass : str
        The state its builder means as bypass.
    states : mapping of str to PedalState
        All states by name.
    table : mapping of (str, str) to str
        State name or ``"last"`` by power and position.
    presses : mapping of str to PressModel
        What a press does, towards ``"lit"`` and ``"dark"``.
    joints : tuple of Joint
        Which let go.
    """

    title: str
    about: str
    family: str
    footswitch: str
    bypass: str
    states: Mapping[str, PedalState]
    table: Mapping[tuple[str, str], str]
    presses: Mapping[str, PressModel] = field(default_factory=dict)
    joints: tuple[Joint, ...] = ()

    def state(self, power: str, position: str, last: str = "") -> PedalState:
        """State for one power and position.

        Parameters
        ----------
        power : {"on", "off"}
            Supply.
        position : {"a", "b", "none"}
            Footswitch; ``"none"`` for a pedal that has one means as found, ``"a"``, and a pedal
            without one takes any.
        last : str
            State the pedal was in when power was last on; empty: as found with power on.

        Returns
        -------
        PedalState
            What is on the line.

        Raises
        ------
        ArgumentError
            If power or position is none of those named, or `last` is needed and is no state.
        """
        if power not in ("on", "off") or position not in ("a", "b", "none"):
            raise ArgumentError(
                f'Power "{power}" and position "{position}" were given.',
                "Power is on or off, position a, b or none.",
            )
        if self.footswitch == "none":
            position = "none"
        elif position == "none":
            position = "a"
        name = self.table[power, position]
        if name == LAST:
            name = last or self.table["on", "none" if self.footswitch == "none" else "a"]
            if name not in self.states:
                raise ArgumentError(
                    f'{self.title} has no state "{name}".', "", f"It has: {', '.join(self.states)}."
                )
            name = self.states[name].unpowered or name
        return self.states[name]


def pedal_names() -> tuple[str, ...]:
    """List the pedals that come with the package.

    Returns
    -------
    tuple of str
        Names for :func:`load_pedal`, sorted.
    """
    folder = resources.files("loopback.simulate") / "pedals"
    names = (Path(entry.name) for entry in folder.iterdir())
    return tuple(sorted(name.stem for name in names if name.suffix == ".cir"))


def load_pedal(name_or_path: str | Path) -> PedalFile:
    """Read a pedal of the package by name, or a file by path.

    Parameters
    ----------
    name_or_path : str or Path
        A name from :func:`pedal_names`, or a path: anything that ends in ``.cir`` or has a folder
        in it.

    Returns
    -------
    PedalFile
        Read and checked.

    Raises
    ------
    ArgumentError
        If there is no such pedal or file, or it cannot be opened.
    NetlistError
        If the file cannot be read as a pedal; the message names file and line.
    """
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or text.endswith(".cir") or Path(text).name != text:
        path = Path(name_or_path)
        try:
            content = path.read_bytes()
        except (OSError, ValueError) as error:  # a null byte in a path is a ValueError
            raise ArgumentError(
                f"The pedal file {path} cannot be read: {getattr(error, 'strerror', error)}.",
                "",
                "Check the path.",
            ) from error
        return parse_pedal(decode(content, path.name), path.name)
    names = pedal_names()
    if text not in names:
        near = get_close_matches(text, names, n=3)
        raise ArgumentError(
            f'There is no simulated pedal "{text}".',
            f"Near to it: {', '.join(near)}." if near else "",
            f"There are: {', '.join(names)}. A file of your own is given by its path.",
        )
    file = resources.files("loopback.simulate") / "pedals" / f"{text}.cir"
    return parse_pedal(file.read_text(encoding="utf-8"), f"{text}.cir")


def parse_pedal(text: str, source: str) -> PedalFile:
    """Read the text of a pedal file.

    Parameters
    ----------
    text : str
        Contents; the format is in the docstring of this module.
    source : str
        Name of the file, for messages.

    Returns
    -------
    PedalFile
        Read and checked, circuits solvable.

    Raises
    ------
    NetlistError
        If the file cannot be read as a pedal; the message names file and line.
    """
    raw = read_pedal_text(text, source)
    states = {}
    for name, state in raw.states.items():
        elements = state_elements(raw, name, source)
        joined = {node for element in elements for node in element.nodes}
        for jack in ("IN", "OUT"):
            if jack not in joined:
                raise NetlistError(
                    f"{source}, line {state.line}: nothing is connected to {jack} in state {name}.",
                    "The solver needs both jacks.",
                    f"Give it the capacitance of a bare jack: Cj {jack} 0 3p",
                )
        states[name] = PedalState(
            name,
            elements,
            state.numbers.get("softclip"),
            state.numbers.get("delay", 0.0),
            state.numbers.get("band"),
            state.numbers.get("noise", 0.0),
            state.unpowered,
            state.sound.sound(),
        )
    return PedalFile(
        raw.words["title"],
        raw.words["about"],
        raw.words["family"],
        raw.words["footswitch"],
        raw.words["bypass"],
        states,
        raw.table,
        raw.presses,
        tuple(raw.joints),
    )
