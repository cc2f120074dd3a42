"""The result in words: the one door to all result prose, for screen, page, JSON and short form."""

from __future__ import annotations

from loopback.quantity import estimate_text, with_prefix
from loopback.verdict.result import Result
from loopback.verdict.sentences_consistent import consistent_text
from loopback.verdict.sentences_meter import MeterLine as MeterLine
from loopback.verdict.sentences_meter import meter_lines as meter_lines
from loopback.verdict.sentences_path import path_sentence, sure_sentence
from loopback.verdict.sentences_power import family_sentence, power_sentence
from loopback.verdict.sentences_reasons import NOT_TESTED, WOULD_TELL, reason_sentence
from loopback.verdict.wording import (
    decibel_text,
    hertz,
    stated_text,
    written_out,
)


def result_sentences(result: Result, plain: bool = False) -> tuple[str, ...]:
    """Give the answer in at most three sentences: path, without power, how sure.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of str
        Whole sentences.
    """
    sentences = [path_sentence(result)]
    if result.path != "none" and result.bypass_position is not None:
        sentences.append(power_sentence(result))
    sentences.append(sure_sentence(result))
    return tuple(written_out(s, plain) for s in sentences if s)


def size_line(result: Result, plain: bool = False) -> str:
    """Give the grade, or why there is none.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    str
        Without a full stop.
    """
    words = {
        "wire-like": "wire-like",
        "light": "light load",
        "loading": "loading",
        "heavy": "heavy load",
    }
    if result.grades:
        text = " or ".join(words[g] for g in result.grades)
    elif result.path in ("buffered", "converted", "silent", "faulty", "none"):
        text = "wire grades do not apply"
    elif result.resistor_ohm is None:
        text = "cannot be told without a run through a resistor"
    else:
        text = "cannot be told from these runs"
    return written_out(text, plain)


def without_power(result: Result, plain: bool = False) -> str:
    """Say what happens without power and which kinds of pedal do that.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    str
        One or two sentences.
    """
    text = f"{power_sentence(result)} {family_sentence(result)}".strip()
    return written_out(text, plain)


def evidence_lines(result: Result, plain: bool = False) -> tuple[str, ...]:
    """How it is known: one sentence per piece of evidence, most telling first.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of str
        Whole sentences.
    """
    return tuple(written_out(reason_sentence(r), plain) for r in result.reasons)


def consistent_line(result: Result, plain: bool = False) -> str:
    """Name the circuits that fit and that the runs cannot tell apart.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    str
        Empty where nothing was fitted.
    """
    return written_out(consistent_text(result), plain)


def plain_lead_lines(result: Result, plain: bool = False) -> tuple[str, ...]:
    """Say what the plain runs show and exclude, for results without a resistor run.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of str
        Empty where a resistor run says more.
    """
    bounds = result.plain
    if bounds is None or result.resistor_ohm is not None:
        return ()
    seen = f"level {decibel_text(bounds.level)}, flat to {hertz(bounds.flat_to_hz)}"
    excluded = []
    if result.path in ("buffered", "converted"):
        return (written_out(f"Seen: {seen}.", plain),)
    if bounds.series_over_ohm < 1e7:
        excluded.append(f"in to out over {with_prefix(bounds.series_over_ohm, 'Ω', 2)}")
    if bounds.shunt_under_ohm > 0:
        excluded.append(f"less than {with_prefix(bounds.shunt_under_ohm, 'Ω', 2)} across the line")
    if bounds.c_over_farad < 1e-6:
        excluded.append(f"more than {with_prefix(bounds.c_over_farad, 'F', 2)}")
    lines = [f"Seen: {seen}."]
    if excluded:
        lines.append(f"Excluded: {'; '.join(excluded)}.")
    return tuple(written_out(line, plain) for line in lines)


def claim_line(result: Result, claim: str, plain: bool = False) -> str:
    """Compare what the owner believes with what was found; never used as evidence.

    Parameters
    ----------
    result : Result
        The answer.
    claim : str
        In the owner's words; empty: none.
    plain : bool
        True writes signs out.

    Returns
    -------
    str
        Empty without a claim.
    """
    if not claim.strip():
        return ""
    words = claim.lower().replace("-", " ")
    wanted = None
    if "true bypass" in words or "hard wired" in words or "hardwired" in words:
        wanted = "wired"
    elif "buffer" in words:
        wanted = "buffered"
    elif "digital" in words:
        wanted = "converted"
    quoted = f'"{claim.strip()}"'
    if wanted is None or result.path == "none":
        return written_out(f"{quoted}: not compared", plain)
    if result.path == "undecided":
        possible = not result.alternatives or wanted in result.alternatives
        word = "cannot be told from these runs" if possible else "does not agree"
    else:
        word = "agrees" if result.path == wanted else "does not agree"
    return written_out(f"{quoted}: {word}", plain)


def not_tested_line(result: Result, plain: bool = False) -> str:
    """Say what no run looked at, and that one unit was measured on one day.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    str
        One line.
    """
    parts = [NOT_TESTED[code] for code in result.not_tested]
    text = f"{', '.join(parts)}. One unit, one day." if parts else "One unit, one day."
    return written_out(text[0].upper() + text[1:], plain)


def would_tell_lines(result: Result, plain: bool = False) -> tuple[str, ...]:
    """Name the runs that would settle what is open, most useful first.

    Parameters
    ----------
    result : Result
        The answer.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of str
        One run each.
    """
    return tuple(written_out(WOULD_TELL[code], plain) for code in result.would_tell)


def short_form(result: Result, name: str, plain: bool = False) -> str:
    """Give the result in one line, for a forum, a caption or a ticket.

    Parameters
    ----------
    result : Result
        The answer.
    name : str
        The pedal.
    plain : bool
        True writes signs out.

    Returns
    -------
    str
        One line without a date; who prints it adds that.
    """
    facts: list[str] = []
    short = {
        "wired": "true bypass",
        "loaded": "passive, loaded",
        "buffered": "buffered bypass",
        "converted": "digital path in bypass",
        "silent": "silent in bypass",
        "faulty": "no working bypass",
        "undecided": "bypass not decided",
        "none": "no pedal in the path",
    }
    facts.append(short[result.path])
    values = [
        line.value for line in meter_lines(result)
        if line.what in ("tip to sleeve", "input")
    ]  # fmt: skip
    facts.extend(values)
    powers = {
        "bypass_position": "passes unpowered in bypass",
        "always": "passes unpowered",
        "keeps_last": "keeps its state unpowered",
        "never": "silent unpowered",
        "untested": "unpowered not tested",
    }
    text = f"{name}: {', '.join(facts)}"
    if result.path != "none":
        text += f"; {powers[result.power]}"
    text += ". One unit"
    if result.resistor is not None and result.setup_c is not None:
        setup = estimate_text(result.setup_c, "F")
        text += f", through {stated_text(result.resistor)}, setup {setup}"
    if "±" in text:
        text += ", ± 95 %"
    return written_out(f"{text}.", plain)
