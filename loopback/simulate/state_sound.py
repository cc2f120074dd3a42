"""What a state of a pedal sounds like and does to loud and soft: further lines of a pedal file.

All stand within a state; volts are those at the interface's input:

- ``.tone 9.6k level 30u``: a whine of 9.6 kHz, 30 µV rms; one line for each;
- ``.hum 100u 20u 50u``: hum, rms volts of the mains frequency and its multiples;
- ``.bend second 80 third 70``: harmonics so many dB below a tone of 1 V peak; the second falls by
  1 dB and the third by 2 dB for each dB less;
- ``.clamp at 0.35 ohm 1k farad 100u leak 100k``: diodes into a supply that is off. What exceeds
  `at` plus the voltage of the floating rail is taken away through `ohm`, and charges the rail's
  capacitor, which `leak` discharges;
- ``.tremolo rate 5 depth 6``: level that goes up and down by 6 dB from end to end;
- ``.gate at 5m hold 30m``: shut while the signal stays below 5 mV peak for 30 ms.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from loopback.errors import ArgumentError
from loopback.quantity import parse_value


@dataclass(frozen=True, slots=True)
class Clamp:
    """Diodes from the line into a supply that is off.

    Parameters
    ----------
    at : float
        Where they begin to conduct, volts.
    ohm : float
        In series with them.
    farad, leak : float
        Capacitor of the floating rail, and the resistance across it in ohm.
    """

    at: float
    ohm: float
    farad: float
    leak: float


@dataclass(frozen=True, slots=True)
class StateSound:
    """What one state adds and bends.

    Parameters
    ----------
    tones : tuple of (float, float)
        Frequency in hertz and volts rms.
    hum : tuple of float
        Volts rms of the mains frequency and its multiples.
    second_db, third_db : float or None
        Harmonics below a tone of 1 V peak, as positive dB; None: none.
    clamp : Clamp or None
        Conduction into an unpowered supply.
    tremolo : tuple of float or None
        Rate in hertz, and depth from end to end in dB.
    gate : tuple of float or None
        Volts peak below which it shuts, and after how many seconds.
    """

    tones: tuple[tuple[float, float], ...] = ()
    hum: tuple[float, ...] = ()
    second_db: float | None = None
    third_db: float | None = None
    clamp: Clamp | None = None
    tremolo: tuple[float, float] | None = None
    gate: tuple[float, float] | None = None

    @property
    def bends(self) -> bool:
        """True when the signal itself is changed, beyond what the netlist does."""
        return self.second_db is not None or self.third_db is not None or self.moves

    @property
    def moves(self) -> bool:
        """True when what it does changes with time."""
        return self.clamp is not None or self.tremolo is not None or self.gate is not None


SILENT = StateSound()


@dataclass(slots=True)
class SoundText:
    """The lines of one state as they come, each kind once but for tones.

    Parameters
    ----------
    tones : list of (float, float)
        Frequency in hertz and volts rms.
    hum : tuple of float
        Volts rms of the mains frequency and its multiples.
    values : dict of str to dict
        Words and numbers of every other line, by its kind.
    """

    tones: list[tuple[float, float]] = field(default_factory=list)
    hum: tuple[float, ...] = ()
    values: dict[str, dict[str, float]] = field(default_factory=dict)

    def read(self, kind: str, rest: str) -> None:
        """Read one line.

        Parameters
        ----------
        kind : str
            Name of the directive, without its dot.
        rest : str
            What follows.

        Raises
        ------
        ArgumentError
            If it cannot be read, or stands twice.
        """
        if kind == "tone":
            first, _, more = rest.partition(" ")
            values = _pairs(kind, more)
            self.tones.append((_positive(kind, first), values["level"]))
            return
        if kind in self.values or (kind == "hum" and self.hum):
            raise ArgumentError(f".{kind} stands twice in this state.", "", "Leave one out.")
        if kind == "hum":
            self.hum = tuple(_positive(kind, word) for word in rest.split())
            if not self.hum:
                raise ArgumentError(".hum is empty.", "", "Write it like: .hum 100u 20u")
            return
        self.values[kind] = _pairs(kind, rest)

    def sound(self) -> StateSound:
        """Return what was read."""
        bend, clamp = self.values.get("bend", {}), self.values.get("clamp")
        tremolo, gate = self.values.get("tremolo"), self.values.get("gate")
        return StateSound(
            tuple(self.tones),
            self.hum,
            bend.get("second"),
            bend.get("third"),
            None if clamp is None else Clamp(**clamp),
            None if tremolo is None else (tremolo["rate"], tremolo["depth"]),
            None if gate is None else (gate["at"], gate["hold"]),
        )


_WORDS: dict[str, tuple[tuple[str, ...], str]] = {
    "tone": (("level",), ".tone 9.6k level 30u"),
    "bend": (("second", "third"), ".bend second 80 third 70"),
    "clamp": (("at", "ohm", "farad", "leak"), ".clamp at 0.35 ohm 1k farad 100u leak 100k"),
    "tremolo": (("rate", "depth"), ".tremolo rate 5 depth 6"),
    "gate": (("at", "hold"), ".gate at 5m hold 30m"),
}
KINDS = (*_WORDS, "hum")
"""Names of the directives."""


def _pairs(kind: str, rest: str) -> dict[str, float]:
    names, example = _WORDS[kind]
    words = rest.split()
    values: dict[str, float] = {}
    for name, text in zip(words[::2], words[1::2], strict=False):
        if name not in names or name in values:
            raise ArgumentError(f'.{kind} does not take "{name}" here.', "", f"Write: {example}")
        values[name] = _positive(kind, text)
    missing = [name for name in names if name not in values and kind != "bend"]
    if missing or len(words) % 2 or not values:
        raise ArgumentError(f'.{kind} is incomplete: "{rest}".', "", f"Write: {example}")
    return values


def _positive(kind: str, text: str) -> float:
    value = parse_value(text)
    if not 0 < value < float("inf"):
        raise ArgumentError(f".{kind} has {text}.", "It must be above zero.", "Leave it out.")
    return value
