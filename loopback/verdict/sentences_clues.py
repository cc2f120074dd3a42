"""Each piece of evidence for a fault as one sentence with its numbers."""

from __future__ import annotations

import math
from collections.abc import Callable

from loopback.quantity import round_together, with_prefix
from loopback.verdict.faults.record import ClueCode
from loopback.verdict.wording import decibel, number

Numbers = dict[str, float | str]
_PLACES = {
    "bypass": "In bypass",
    "other": "In the other position",
    "both": "In both positions",
    "only": "In the position measured",
    "a": "In position a",
    "b": "In position b",
    "none": "From in to out",
}
_BANDS = {1: "a tenth", 2: "a hundredth", -1: "ten times", 3: "a thousandth"}


def _where(n: Numbers) -> str:
    return _PLACES[str(n["place"])]


def _ohm(value: float, digits: int = 2) -> str:
    return with_prefix(value, "Ω", digits)


def _small_ohm(n: Numbers) -> str:
    value = number(n, "ohm")
    return f"{value:.2f} Ω" if value < 3 else _ohm(value)


def _with_doubt(value: float, u: float, unit: str) -> str:
    """Write value and 95 % in one prefix."""
    steps = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
    size = max(abs(value), 1.96 * u)
    scale, prefix = next(((s, p) for s, p in steps if size >= s * 0.9995), steps[-1])
    shown, half = round_together(value / scale, 1.96 * u / scale)
    return f"{shown} {prefix}{unit} ± {half}"


def _tail_doubt(n: Numbers) -> str:
    return f" ± {1.96 * number(n, 'u_s'):.2f}" if "u_s" in n else ""


def _decibels(n: Numbers) -> str:
    value, half = round_together(number(n, "db"), 1.96 * number(n, "u"))
    return f"{value} dB ± {half}"


def _open(n: Numbers) -> str:
    text = f"{_where(n)} nothing passes: {decibel(number(n, 'db'), 0)} at 1 kHz"
    if "farad" in n:
        farad = with_prefix(number(n, "farad"), "F", 2)
        return (
            f"{text}, rising with frequency as through {farad}, what open lugs have between them."
        )
    return f"{text}."


def _short(n: Numbers) -> str:
    ohm, level = _small_ohm(n), number(n, "db")
    if math.isnan(level):
        return f"{_where(n)} the line is held to ground through some {ohm}."
    return (
        f"{_where(n)} the line is held to ground: {decibel(level, 0)} at 1 kHz and flat, as "
        f"through {ohm}."
    )


def _short_under(n: Numbers) -> str:
    return (
        f"{_where(n)} nothing passes: {decibel(number(n, 'db'), 0)} at 1 kHz, as when the line is "
        f"held to ground through less than {_small_ohm(n)}."
    )


def _expected(n: Numbers) -> str:
    key, wanted = str(n["key"]), number(n, "wanted")
    values = {
        "pulldown": f"{_ohm(wanted, 3)} across the line",
        "least_resistance": f"at least {_ohm(wanted, 3)} across the line",
        "most_in_to_out": f"at most {_ohm(wanted, 3)} from in to out",
        "most_capacitance": f"at most {with_prefix(wanted, 'F', 3)}",
        "true_bypass": "true bypass" if wanted else "no true bypass",
        "buffered": "a buffer" if wanted else "no buffer",
        "passes_unpowered": "that it passes without power" if wanted else "silence without power",
    }
    return f"The build sheet expects {values[key]}."


def _a_tenth(n: Numbers) -> str:
    part = _BANDS.get(round(number(n, "bands")), "another decade")
    wanted = _ohm(number(n, "wanted"), 3)
    of = wanted if part == "ten times" else f"of {wanted}"
    return f"That is {part} {of}: one band of the colour code."


def _tones(n: Numbers) -> str:
    count = round(number(n, "count"))
    more = f", and {count - 1} more" if count > 1 else ""
    return (
        f"In bypass a tone of {with_prefix(number(n, 'hz'), 'Hz', 4)} at "
        f"{number(n, 'dbfs'):.0f} dBFS{more}, not with the cable and not without power."
    )


def _times(n: Numbers) -> str:
    count = round(number(n, "count"))
    return "once" if count == 1 else f"{count} times"


CLUES: dict[ClueCode, Callable[[Numbers], str]] = {
    "open": _open,
    "short": _short,
    "short_under": _short_under,
    "plays": lambda n: (
        f"The other position plays ({decibel(number(n, 'db'))} at 1 kHz), so leads and jacks work."
    ),
    "same_unpowered": lambda _: "With and without power that is the same: the supply does nothing.",
    "differs_unpowered": lambda _: "Without power that level is another: the supply gets there.",
    "alike": lambda n: (
        f"With power both positions are the same within {max(number(n, 'db'), 0.001):.3f} dB."
    ),
    "in_line": lambda n: (
        f"{_with_doubt(number(n, 'ohm'), number(n, 'u'), 'Ω')} lies in line in bypass, with no "
        "more than wiring around it."
    ),
    "not_steady": lambda n: f"Two takes of one run differ by {number(n, 'db'):.2f} dB in bypass.",
    "bends": lambda n: (
        f"Harmonic {round(number(n, 'order'))} is {number(n, 'db'):.0f} dB above the setup's own: "
        "the joint rectifies."
    ),
    "across": lambda n: (
        f"{_with_doubt(number(n, 'ohm'), number(n, 'u'), 'Ω')} lies across the line in bypass."
    ),
    "across_over": lambda n: (
        f"Nothing under {_ohm(number(n, 'ohm'))} lies across the line in bypass."
    ),
    "behind": lambda n: (
        f"{_with_doubt(number(n, 'ohm'), number(n, 'u'), 'Ω')} lies across the line behind "
        f"{_with_doubt(number(n, 'farad'), number(n, 'u_farad'), 'F')}."
    ),
    "capacitance": lambda n: (
        f"{_with_doubt(number(n, 'farad'), number(n, 'u'), 'F')} lies across the line in bypass."
    ),
    "a_tenth": _a_tenth,
    "beside": lambda n: f"That is as if {_ohm(number(n, 'ohm'), 3)} lay beside what is expected.",
    "drifts": lambda n: (
        f"Insulation drifts from run to run: {_ohm(number(n, 'low_ohm'), 3)} in one, "
        + (
            f"{_ohm(1 / number(n, 'high_s'), 3)} in another."
            if number(n, "high_s") > 2e-9
            else "none in another."
        )
    ),
    "expected": _expected,
    "hum": lambda n: (
        f"In bypass the mains lines are {_decibels(n)} above those of the cable, with the "
        f"{n['feed']} lead."
    ),
    "hum_unpowered": lambda _: "Without power it hums the same.",
    "hum_powered_only": lambda _: "Without power the hum is gone.",
    "crosstalk": lambda n: (
        "Past the effect, without power, in and out are coupled by "
        f"{with_prefix(number(n, 'farad'), 'F', 2)}: lugs have a few picofarads."
    ),
    "tones": _tones,
    "comb": lambda n: (
        f"All {round(number(n, 'count'))} are multiples of {with_prefix(number(n, 'hz'), 'Hz', 4)}."
    ),
    "noise_powered": lambda n: f"In bypass power adds {_decibels(n)} of noise.",
    "rises": lambda n: (
        f"In bypass something of the effect gets onto the line, {_decibels(n)} at 10 kHz and less "
        "below."
    ),
    "pop_once": lambda n: (
        f"Only switching the effect on pops, {number(n, 'ratio'):.0f} times as loud as off."
    ),
    "pop_grows": lambda n: f"After a rest the pop is {number(n, 'times'):.1f} times the usual one.",
    "pop_tail": lambda n: (
        f"The step of a pop goes with {number(n, 'tail_s'):.2f} s"
        f"{_tail_doubt(n)}, as a time constant."
    ),
    "drops_out": lambda n: (
        f"Tapped, the line drops out {_times(n)}, the first time after {number(n, 'at_s'):.1f} s."
    ),
    "moves": lambda n: (
        f"Tapped, its level moves {_times(n)}, by {decibel(number(n, 'db'), 2)} after "
        f"{number(n, 'at_s'):.1f} s."
    ),
    "crackles": lambda n: f"Tapped, it crackles {_times(n)} without a change of the tone.",
    "gap_varies": lambda n: (
        f"Pressed, neither path is connected for {1e3 * number(n, 'median_s'):.0f} ms as a rule, "
        f"but once for {1e3 * number(n, 'worst_s'):.0f} ms."
    ),
}
