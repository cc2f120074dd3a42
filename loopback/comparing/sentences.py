"""Sentences about differences, repeats and repairs: nothing is computed here."""

from __future__ import annotations

from loopback.comparing.changes import Change, Changes
from loopback.comparing.comparison import Caution, Comparison, Pair
from loopback.comparing.difference import Difference, as_resistance
from loopback.comparing.repeats import Precision
from loopback.comparing.summary import Quantity, Summary
from loopback.comparing.wording import (
    NAMES,
    PATH_WORDS,
    POWER_WORDS,
    bare_text,
    bound_text,
    size_text,
    spread_range,
    spread_text,
    value_text,
)

_ADDED: tuple[Quantity, ...] = ("c", "c_input")
_LEVELS: tuple[Quantity, ...] = (
    "gain", "level_plain", "treble_plain", "level_resistor", "treble_resistor", "noise",
)  # fmt: skip
_NO_GRADE = "no grade"
_LONGEST_NAME = 24
"""Longer names are replaced by the number in the list: a sentence holds several of them."""
_CAUTIONS = {
    "one_setup": "Taken as one setup: interface and resistor are the same, so that the doubt about "
    "resistor and coupler is common and mostly cancels in a difference. If the leads were "
    "others, say --setups several.",
    "several_setups": "Not all were made with one setup, as far as the documents say: between "
    "setups every doubt is taken as independent, and levels through the resistor are not "
    "compared, since they depend on leads and input. If it was one, say --setups one.",
    "rates": "Sample rates differ: the ends of the band are not measured alike.",
    "signals": "What was played differs in range, length or level.",
    "hook_ups": "Not all were examined with the same runs: where a run is missing, so is what only "
    "it can show.",
    "changed": "Recordings that are gone, or no longer what was recorded, in {}: see loopback "
    "verify.",
    "refused": "Runs that could not be used, in {}: see loopback show.",
    "copies": "The same recordings as in another folder, in {}: not counted as a repeat.",
}


def pair_sentences(pair: Pair) -> tuple[str, ...]:
    """Say what differs between two examinations beyond the 95 % interval, and what does not.

    Parameters
    ----------
    pair : Pair
        Two examinations.

    Returns
    -------
    tuple of str
        One sentence for each quantity that differs, and one for all others.
    """
    first, second = (
        one.name if len(one.name) <= _LONGEST_NAME else f"number {one.number}"
        for one in (pair.first, pair.second)
    )
    told = [d for d in pair.differences if d.told]
    lines = [_told(d, first, second) for d in told]
    rest = [_same(d) for d in pair.differences if not d.told]
    if rest:
        lines.append(f"No difference told: {'; '.join(rest)}.")
    if not pair.differences:
        lines.append("Nothing that both examinations measured can be compared.")
    return tuple(lines)


def change_sentence(change: Change) -> str:
    """Say in one sentence whether a quantity was changed by a repair.

    Parameters
    ----------
    change : Change
        Of one quantity.

    Returns
    -------
    str
        With both values, or with how much it can have changed at most.
    """
    d = change.difference
    name = NAMES[d.quantity]
    if change.outcome == "not_told":
        ohms = as_resistance(d) if _conductance(d) else d
        values = f"{value_text(d.quantity, d.first)} before, {value_text(d.quantity, d.second)}"
        if ohms is None:
            return f"{name}: no change told; {values} after."
        return f"{name}: no change told, none over {bound_text(ohms.difference)}; {values} after."
    head = "changed" if change.outcome == "changed" else "likely changed, not beyond doubt"
    values = f"from {value_text(d.quantity, d.first)} to {value_text(d.quantity, d.second)}"
    return f"{name}: {head}, {values} ({_by(d)})."


def result_change_sentences(changes: Changes) -> tuple[str, ...]:
    """Say what became of the result in words.

    Parameters
    ----------
    changes : Changes
        Before and after.

    Returns
    -------
    tuple of str
        Path, load, behaviour without power: one sentence each.
    """
    before, after = changes.before, changes.after

    def sentence(what: str, one: str, two: str) -> str:
        if one == two:
            return f"{what}: {one}, as before."
        was, now = (
            f"{verb} {words}"
            for verb, words in (
                ("had" if one == _NO_GRADE else "was", one),
                ("has" if two == _NO_GRADE else "is", two),
            )
        )
        return f"{what}: {was}, {now}."

    lines = [
        sentence("Bypass", PATH_WORDS[before.path], PATH_WORDS[after.path]),
        sentence("Load", grade_words(before), grade_words(after)),
        sentence("Power", POWER_WORDS[before.power], POWER_WORDS[after.power]),
    ]
    lines += _fault_lines(before, after)
    if not before.pedal.same_as(after.pedal):
        lines.append("What was noted about the pedal differs: make sure that both are one pedal.")
    for words, names in (("before", changes.lost), ("after", changes.gained)):
        if names:
            listed = "; ".join(NAMES[name].lower() for name in names)
            lines.append(f"Only measured {words}: {listed}.")
    return tuple(lines)


def _fault_lines(before: Summary, after: Summary) -> list[str]:
    """Say which wiring faults went, stayed and came."""
    gone = [name for name in before.faults if name not in after.faults]
    stayed = [name for name in before.faults if name in after.faults]
    come = [name for name in after.faults if name not in before.faults]
    return [
        f"{heading}: {'; '.join(names)}."
        for heading, names in (
            ("Fault no longer found", gone),
            ("Fault still found", stayed),
            ("Fault found only after", come),
        )
        if names
    ]


def grade_words(summary: Summary) -> str:
    """Write the grade of a load.

    Parameters
    ----------
    summary : Summary
        Of one examination.

    Returns
    -------
    str
        One grade, or two that an interval straddles; "no grade" where none applies.
    """
    return " or ".join(summary.grades) if summary.grades else _NO_GRADE


def precision_sentence(quantity: Quantity, found: Precision) -> str:
    """Say how well repeated examinations agree in one quantity.

    Parameters
    ----------
    quantity : str
        Which.
    found : Precision
        Its scatter.

    Returns
    -------
    str
        Mean, standard deviation with its interval, and whether the stated doubts explain it.
    """
    unit = found.mean.unit
    known = spread_range(found.low95, found.high95, unit)
    mean = f"mean of {found.groups} {bare_text(found.mean.value, unit)}"
    if abs(found.mean.value) < 2 * found.stated:
        mean = f"{found.groups} values, none resolved"
    text = (
        f"{NAMES[quantity]}: {mean}; standard deviation {spread_text(found.all_together, unit)} "
        f"({known} at 95 %)"
    )
    if found.within is not None and found.between is not None:
        text += (
            f", within one examination {spread_text(found.within, unit)}, between them "
            f"{spread_text(found.between, unit)}"
        )
    stated = spread_text(found.stated, unit)
    if found.explained:
        return f"{text}. The stated doubt of {stated} explains it."
    return f"{text}. The stated doubt of {stated} does not explain it: something changed between."


def caution_sentence(caution: Caution) -> str:
    """Write a caution.

    Parameters
    ----------
    caution : Caution
        Which, and of which examinations.

    Returns
    -------
    str
        What it means.
    """
    return _CAUTIONS[caution.code].format(", ".join(str(n) for n in caution.numbers))


def cautions_of(comparison: Comparison) -> tuple[str, ...]:
    """Write all cautions of a comparison.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.

    Returns
    -------
    tuple of str
        One sentence or two for each.
    """
    return tuple(caution_sentence(caution) for caution in comparison.cautions)


def _told(d: Difference, first: str, second: str) -> str:
    more = d.difference.value > 0
    if _conductance(d):
        values = f"{second} {value_text(d.quantity, d.second)}, {first} "
        values += value_text(d.quantity, d.first)
        return f"{NAMES[d.quantity]}: {values}; {second} loads {'more' if more else 'less'}."
    size = size_text(d.difference)
    if d.quantity in _ADDED:
        return f"{_begun(second)} adds {size} {'more' if more else 'less'} than {first}."
    if d.quantity in _LEVELS:
        return f"{NAMES[d.quantity]}: {second} {size} {'above' if more else 'below'} {first}."
    return f"{NAMES[d.quantity]}: {second} {size} {'more' if more else 'less'} than {first}."


def _begun(name: str) -> str:
    return name.replace("number ", "Number ", 1) if name.startswith("number ") else name


def _same(d: Difference) -> str:
    name = NAMES[d.quantity]
    name = name[0].lower() + name[1:]
    ohms = as_resistance(d) if _conductance(d) else d
    return name if ohms is None else f"{name} (within {bound_text(ohms.difference)})"


def _by(d: Difference) -> str:
    ohms = as_resistance(d) if _conductance(d) else d
    if ohms is None:
        return "a heavier load" if d.difference.value > 0 else "a lighter load"
    return f"{size_text(ohms.difference)} {'more' if ohms.difference.value > 0 else 'less'}"


def _conductance(d: Difference) -> bool:
    return d.quantity in ("g", "g_input")
