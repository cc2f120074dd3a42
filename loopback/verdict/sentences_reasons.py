"""Each piece of evidence, and each run that would tell more, as one sentence."""

from __future__ import annotations

import math
from collections.abc import Callable

from loopback.quantity import round_together, with_prefix
from loopback.verdict.codes import NotTestedCode, ReasonCode, TellCode
from loopback.verdict.result import Reason
from loopback.verdict.sentences_beside import BESIDE
from loopback.verdict.sentences_dead import DEAD
from loopback.verdict.wording import decibel, hertz, not_counted, number, refused_runs

Numbers = dict[str, float | str]
_NEAR = {
    "c": "capacitance across the line",
    "g": "resistance across the line",
}


def reason_sentence(reason: Reason) -> str:
    """Write one piece of evidence as a sentence.

    Parameters
    ----------
    reason : Reason
        The piece of evidence.

    Returns
    -------
    str
        One or two sentences.
    """
    return REASONS[reason.code](reason.numbers)


def _same(n: Numbers) -> str:
    return (
        f"Without power the same stays on the line, within "
        f"{max(abs(number(n, 'c_pf')), 0.1):.1f} pF and {max(abs(number(n, 'g_ns')), 1):.0f} nS."
    )


def _changes(n: Numbers) -> str:
    on, off = number(n, "on_ohm"), number(n, "off_ohm")
    texts = [with_prefix(ohm, "Ω") for ohm in (on, off)]
    if math.isfinite(on) and math.isfinite(off) and min(on, off) < 5e6 and texts[0] != texts[1]:
        return (
            f"Without power the {texts[0]} across the line becomes {texts[1]}: something that "
            "needs power hangs on it."
        )
    return (
        f"Without power {number(n, 'c_pf'):+.1f} pF of what is on the line changes: "
        "something that needs power hangs on it."
    )


def _passes_off(n: Numbers) -> str:
    level = number(n, "level_db")
    if math.isnan(level):
        return "It passes without power."
    if abs(level) < 0.005:
        return "It passes without power, with the same level to 0.01 dB."
    return f"It passes without power, with the level changed by {decibel(level, 2)}."


def _lf_rise(n: Numbers) -> str:
    return (
        f"Through the resistor {decibel(number(n, 'middle_db'))} at 1 kHz but "
        f"{decibel(number(n, 'low_db'))} at {hertz(number(n, 'low_hz'))}: "
        "a plain resistor cannot do that, one behind a capacitor does. An ohmmeter reads open here."
    )


def _series(n: Numbers) -> str:
    return (
        f"With the plain lead the level is {decibel(number(n, 'level_db'), 2)} and the treble "
        f"{decibel(number(n, 'top_db'))} at {number(n, 'top_khz'):.0f} kHz: nothing across the "
        "line does that, a part in line does."
    )


def _with_doubt(value: float, half: float) -> str:
    """Write value and half-width so that the doubt is never written as nothing."""
    return " ± ".join(round_together(value, half))


def _level_with_doubt(n: Numbers) -> str:
    value, half = number(n, "db"), number(n, "u_db")
    return f"{'+' if value > 0 else ''}{_with_doubt(value, half).replace(' ±', ' dB ±')}"


def _transformer(n: Numbers) -> str:
    return (
        f"With the plain lead the response is {decibel(number(n, 'low_db'))} at 50 Hz and "
        f"{decibel(number(n, 'top_db'))} at {number(n, 'top_khz'):.0f} kHz, without a powered "
        "stage: a winding does that."
    )


def _misses(db: float) -> str:
    return f"{db:.2f}" if db >= 0.01 else f"{max(db, 0.001):.3f}"


REASONS: dict[ReasonCode, Callable[[Numbers], str]] = {
    "no_pedal_runs": lambda _: "There is no run with the pedal.",
    "no_usable_runs": lambda _: "None of the pedal's runs can be used.",
    "no_reference": lambda _: "There is no reference run with the same lead.",
    "no_setup": lambda _: "Without reference runs nothing is known about the setup.",
    "resistor_doubtful": lambda n: (
        f"Lead and input seem to have {number(n, 'pf'):.0f} pF and "
        f"{with_prefix(number(n, 'ohm'), 'Ω', 2)}, less and more than usual: the series resistor "
        "may be a tenth of the value given, and then capacitances are ten times what is told, and "
        "resistances a tenth."
    ),
    "low_input": lambda n: (
        f"The input has {with_prefix(number(n, 'ohm'), 'Ω')}, far below an instrument input's "
        "1 MΩ: behind a line input a load can read like a buffer. Use the socket for instruments."
    ),
    "same_as_reference": lambda n: (
        f"Every run equals the reference within {max(number(n, 'db'), 0.001):.3f} dB"
        f"{not_counted(n)}."
    ),
    "digital_return": lambda _: "The recordings carry no analogue noise.",
    "no_resistor": lambda _: (
        "No run through a resistor: a load of 100 kΩ changes the plain runs by 0.01 dB and a "
        "guitar by 6 dB."
    ),
    "plain_flat": lambda n: f"With the plain lead it is flat to {hertz(number(n, 'hz'))}.",
    "plain_rc": lambda n: (
        "A plain resistor and capacitor explain the resistor run to "
        f"{max(number(n, 'db'), 0.001):.3f} dB."
    ),
    "plain_loss": lambda n: (
        f"With the plain lead the level is {decibel(number(n, 'db'), 2)}: some "
        f"{with_prefix(number(n, 'ohm'), 'Ω', 1)} lies across the line, if the interface feeds it "
        "through 150 Ω."
    ),
    "shunt_resistance": lambda n: (
        f"{with_prefix(number(n, 'ohm'), 'Ω')} lies across the line: less than leakage, as a "
        "fitted resistor does."
    ),
    "shunt_capacitance": lambda n: (
        f"{number(n, 'pf'):.0f} pF lies across the line: more than wiring and jacks have."
    ),
    "residual": lambda n: (
        f"A plain resistor and capacitor miss the resistor run by {number(n, 'db'):.2f} dB."
    ),
    "lf_rise": _lf_rise,
    "series_element": _series,
    "series_resistance": lambda n: (
        f"{with_prefix(number(n, 'ohm'), 'Ω', 2)} lies in line, told from "
        f"{'its delay' if n.get('by') == 'delay' else 'the treble that it takes'}: a weak joint, "
        "a worn contact or a fitted resistor."
    ),
    "in_line_untested": lambda _: (
        "Only wiring lies across the line; in to out was not tested, and through the resistor a "
        "weak joint would hardly show."
    ),
    "in_line_unresolved": lambda n: (
        "Only wiring lies across the line; in to out is only known to be under "
        f"{with_prefix(number(n, 'ohm'), 'Ω', 2)}, and a weak joint may be in it."
    ),
    "flat_level": lambda n: (
        f"With the plain lead the level is {decibel(number(n, 'db'), 2)}, alike from bass to "
        "treble: a gain that moved between coupler and pedal, or up to "
        f"{with_prefix(number(n, 'ohm'), 'Ω', 2)} in line. Nothing holds the gain here."
    ),
    "part_in_line": lambda n: (
        "What lies in line is "
        f"{'a winding' if n.get('kind') == 'transformer' else 'a resistor'}: nothing across the "
        "line alone gives this curve."
    ),
    "series_capacitor": lambda n: (
        f"A capacitor lies in line, beside {with_prefix(number(n, 'ohm'), 'Ω')} across it: the "
        "bass falls as no load alone makes it fall. An ohmmeter reads open from in to out."
    ),
    "outside_list": lambda n: (
        "None of the circuits known here explains the runs: the nearest misses them by "
        f"{_misses(number(n, 'db'))} dB."
    ),
    "transformer": _transformer,
    "step_up": lambda n: (
        f"With the plain lead the level is {decibel(number(n, 'db'), 2)}, without a powered stage: "
        "a winding steps up like that."
    ),
    "negative_capacitance": lambda n: (
        f"Through the resistor the pedal takes {-number(n, 'pf'):.0f} pF off the line: only a "
        "stage that drives the return lead itself does that."
    ),
    "gain_offset": lambda n: (
        f"With the plain lead the level is {_level_with_doubt(n)}, which nothing passive found "
        "here explains."
    ),
    "treble_lift": lambda n: (
        f"Through the resistor {decibel(number(n, 'db'))} of treble: the return lead no longer "
        "hangs on the source. It is not a boost."
    ),
    "delay": lambda n: (
        f"It comes {_with_doubt(number(n, 'ms'), number(n, 'u_ms')).replace(' ±', ' ms ±')} late: "
        "conversion takes that long, wire and buffers do not."
    ),
    "band_edge": lambda n: f"Its response ends steeply at {number(n, 'khz'):.1f} kHz.",
    "delay_unknown": lambda _: (
        "Its delay is hidden by the opening of the stream, so a converter is not excluded."
    ),
    "same_without_power": _same,
    "changes_without_power": _changes,
    "passes_without_power": _passes_off,
    "same_plain_without_power": lambda _: (
        "With the plain lead the response is the same without power, and is not that of a wire: no "
        "powered stage makes it."
    ),
    "same_reversed": lambda _: "With in and out exchanged the same stays on the line.",
    "dead_reversed": lambda _: "With in and out exchanged nothing passes: a stage is in the way.",
    "determinant_passive": lambda n: (
        "Fed and loaded in more than one way it gives and takes alike, as only passive paths do "
        f"(AD - BC = {_with_doubt(number(n, 'det'), 1.96 * number(n, 'u_det'))})."
    ),
    "determinant_active": lambda n: (
        "What hangs on its output does not reach its input, as behind a powered stage "
        f"(AD - BC = {_with_doubt(number(n, 'det'), 1.96 * number(n, 'u_det'))})."
    ),
    "may_fall_back": lambda _: (
        "Both positions pass without power: a relay that falls back from a buffer whose input "
        "matches this lead would look the same. A reversed run excludes even that."
    ),
    "lookalike": lambda n: (
        f"A buffer whose input looks like this lead ({number(n, 'pf'):.0f} pF) would give the "
        "same curve."
    ),
    "near_limit": lambda n: (
        f"The {_NEAR.get(str(n.get('what')), 'value')} lies too near a limit: "
        f"{100 * number(n, 'probability'):.0f} % inside it."
    ),
    "other_position_works": lambda _: "The other position plays, so the leads and jacks work.",
    "unpowered_refused": lambda n: (
        f"Without power one position was not tested ({refused_runs(n)})."
    ),
    "other_position_dead": lambda _: (
        "With power the other position is silent: muted by design, or the effect does not work."
    ),
    "not_steady": lambda n: f"Two takes of one run differ by {number(n, 'db'):.2f} dB.",
    "exchanged": lambda n: (
        f"The pedal leaves {number(n, 'pf'):.1f} pF on the line: less than nothing, as when "
        "reference and pedal runs are exchanged."
    ),
    "no_bypass_position": lambda _: "No position of the footswitch behaves like a bypass.",
    "bypass_unclear": lambda _: (
        "Both positions look much alike; the one nearer to the cable was taken for bypass."
    ),
    "inverted": lambda _: "It turns the polarity over.",
    **BESIDE,
    **DEAD,
}
WOULD_TELL: dict[TellCode, str] = {
    "reference": "one run through the coupler with the same lead",
    "pedal_runs": "runs with the pedal in place of the coupler",
    "repeat": "the same runs again, after a look at the hook-up",
    "resistor_runs": "five runs through one resistor, 47 to 220 kΩ, any type, measured or 1 %",
    "plain_runs": "one run with the plain lead in bypass",
    "plain_reference": "one run with the plain lead through the coupler: it settles the scale",
    "powered_bypass": "one run with power in the bypass position",
    "unpowered_bypass": "one run without power in the bypass position, same lead",
    "unpowered_other": "one run without power in the other position",
    "other_position": "one run after pressing the footswitch once",
    "power_cycle": "pull the power while it is in bypass, then run it as it is",
    "reversed": "one run through the resistor with in and out of the pedal exchanged",
    "check_cable": "a check cable from a spare output to a spare input",
    "load_plug": "the bypass runs again with a load plug of 1 kΩ: --plan full",
    "second_level": "the bypass runs again, 20 dB lower: --plan full",
    "matings": "plug coupler and pedal again and repeat, three times each",
}
NOT_TESTED: dict[NotTestedCode, str] = {
    "footswitch_noise": "footswitch noise",
    "flexing": "joints under flexing",
    "series_resistance": "in to out in ohms",
    "line_load": "what stays across the line",
    "without_power": "without power",
    "with_power": "with power",
    "other_position": "the other position",
    "delay": "delay",
    "whole_delay": "delay by whole samples",
}
