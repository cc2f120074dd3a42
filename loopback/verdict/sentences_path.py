"""What the path is, in one sentence per class."""

from __future__ import annotations

from loopback.quantity import estimate_text, with_prefix
from loopback.verdict.conformance import conformities
from loopback.verdict.result import PathClass, Reason, Result
from loopback.verdict.sentences_dead import less_than_lugs
from loopback.verdict.silicon import SILICON_CODES
from loopback.verdict.wording import (
    about,
    capacitance_text,
    decibel,
    not_counted,
    number,
    ohm_text,
    resistance_text,
    sure_text,
)

NAMES: dict[PathClass, str] = {
    "wired": "true bypass",
    "loaded": "a load left on the line",
    "buffered": "a buffered path",
    "converted": "a digital path",
    "silent": "a path muted by design",
    "faulty": "a fault",
    "undecided": "something not named here",
    "none": "no pedal at all",
}


def path_sentence(result: Result) -> str:
    """Say what the path in bypass is, with only the numbers that matter.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence.
    """
    writer = {
        "wired": _wired,
        "loaded": _loaded,
        "buffered": _buffered,
        "converted": _converted,
        "silent": _silent,
        "faulty": _faulty,
        "undecided": _undecided,
        "none": _none,
    }[result.path]
    return writer(result)


def sure_sentence(result: Result) -> str:
    """Say how sure that is, and what stays possible; may be empty.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence, or empty.
    """
    sure = sure_text(result.certainty)
    if result.path == "wired":
        limits = conformities(result)
        if limits and all(line.outcome == "met" for line in limits):
            return f"All limits are met, {sure}."
        series = result.series_ohm
        bound = "" if series is None else f"; in to out is only known to be {ohm_text(series)}"
        return f"All limits that these runs can tell are met, {sure}{bound}."
    if result.path in ("undecided", "none"):
        return _excluded(result)
    beside = ""
    if result.alternatives:
        beside = f"{_list([NAMES[p] for p in result.alternatives], 'or')} would look the same"
        return f"{beside[0].upper()}{beside[1:]}."
    untested = result.plain is None and result.series_ohm is None
    if result.path == "loaded" and untested and result.shunt is not None:
        # Through the resistor a part in line multiplies the load and passes for more of it.
        sure = f"{sure}; without a plain run a part in line could look the same"
    return f"{sure[0].upper()}{sure[1:]}." if sure else ""


def reason_of(result: Result, *codes: str) -> Reason | None:
    """Return the first reason with one of these codes.

    Parameters
    ----------
    result : Result
        The answer.
    *codes : str
        One or more codes.

    Returns
    -------
    Reason or None
        None when there is none.
    """
    return next((r for r in result.reasons if r.code in codes), None)


def _wired(result: Result) -> str:
    del result
    return "True bypass (hard-wired: in bypass the input goes straight to the output)."


def _loaded(result: Result) -> str:
    if result.network is not None:
        r = about(result.network.r_ohm.value, "Ω")
        c = about(result.network.coupling_farad.value, "F")
        return (
            f"Passive, loaded: {r} through {c} stays across the line in bypass, as the effect's "
            "input or a tone network does."
        )
    in_line = reason_of(result, "series_element")
    if in_line is not None:
        top = decibel(number(in_line.numbers, "top_db"))
        at = f"{number(in_line.numbers, 'top_khz'):.0f} kHz"
        level = decibel(number(in_line.numbers, "level_db"))
        series = result.series_ohm
        known = series is not None and series.half_width() < 0.5 * series.value
        r = f", {estimate_text(series, 'Ω')}" if series is not None and known else ""
        return (
            f"Passive, not straight through: a part lies in line in bypass{r} (level {level}, "
            f"treble {top} at {at} with the plain lead)."
        )
    if reason_of(result, "part_in_line") is not None:
        return "Passive, not straight through: a part lies in line in bypass."
    if reason_of(result, "series_capacitor") is not None:
        stays = [text for text in _stays(result) if text]
        beside = f", and {_list(stays, 'and')} across it" if stays else ""
        return f"Passive, not straight through: a capacitor lies in line in bypass{beside}."
    if reason_of(result, "transformer", "step_up") is not None:
        return "Passive, not straight through: it behaves like a transformer in bypass."
    loss = reason_of(result, "plain_loss")
    if loss is not None:
        ohm = with_prefix(number(loss.numbers, "ohm"), "Ω", 1)
        return f"Passive, loaded: some {ohm} stays across the line in bypass."
    stays = [text for text in _stays(result) if text]
    if reason_of(result, *SILICON_CODES) is not None and result.consistent == ("wire",):
        return (
            "Passive, not straight through by the strict rule: beside wiring, silicon hangs on the "
            "line in bypass."
        )
    if stays:
        verb = "stay" if len(stays) > 1 else "stays"
        return (
            f"Passive, not true bypass by the strict rule: {_list(stays, 'and')} {verb} across "
            "the line in bypass."
        )
    return "Passive, loaded, of a kind that is not in the list of circuits known here."


def _stays(result: Result) -> list[str]:
    shunt = result.shunt
    if shunt is None:
        return []
    r = resistance_text(shunt.g_siemens)
    c = capacitance_text(shunt.c_farad)
    return ["" if r.startswith("over") else r, "" if c.startswith("under") else c]


def _buffered(result: Result) -> str:
    del result
    return "Active, buffered: in bypass the signal goes through a powered stage."


def _converted(result: Result) -> str:
    delay = reason_of(result, "delay")
    late = ""
    if delay is not None:
        late = f", {number(delay.numbers, 'ms'):.2f} ms late"
    return f"Digital: in bypass the signal is converted and converted back{late}."


def _silent(result: Result) -> str:
    dead = reason_of(result, "dead_open", "dead_short")
    down = "" if dead is None else f" ({decibel(number(dead.numbers, 'db_1k'), 0)} at 1 kHz)"
    return f"Silent in bypass: nothing passes{down}, while the other position plays."


def _faulty(result: Result) -> str:
    part = reason_of(result, "series_resistance")
    if part is not None:
        ohm = with_prefix(number(part.numbers, "ohm"), "Ω", 2)
        return f"Faulty: it passes, but {ohm} lies in line in bypass."
    unsteady = reason_of(result, "not_steady")
    if unsteady is not None:
        return (
            f"Faulty: the level in bypass changes by {number(unsteady.numbers, 'db'):.1f} dB "
            "between takes, as a weak joint does."
        )
    text = "Faulty: nothing passes in any position tested"
    if reason_of(result, "dead_short") is not None:
        return f"{text}; the line is held to ground."
    dead = reason_of(result, "dead_open")
    if dead is not None and less_than_lugs(dead.numbers):
        return f"{text}."
    return f"{text}; the line is open."


def _undecided(result: Result) -> str:
    if reason_of(result, "no_pedal_runs") is not None:
        return "Cannot tell anything yet: there is no run with the pedal."
    if reason_of(result, "no_usable_runs") is not None:
        return "Cannot tell: none of the pedal's runs can be used."
    if reason_of(result, "no_reference") is not None:
        return "Cannot tell: there is no reference run to compare the pedal with."
    same = reason_of(result, "same_as_reference")
    if same is not None:
        return (
            f"Cannot tell: every run equals the reference{not_counted(same.numbers)}. With the "
            "plain lead a passive pedal may; so does a coupler that was left in."
        )
    if reason_of(result, "no_bypass_position") is not None:
        return "Cannot tell: no position of the footswitch behaves like a bypass."
    if reason_of(result, "exchanged") is not None:
        return (
            "Cannot tell: the pedal seems to leave less on the line than the coupler. Reference "
            "and pedal runs look exchanged."
        )
    if reason_of(result, "supply_left_in") is not None:
        return (
            "Cannot tell: it behaves like a powered stage, and does the same without power. Was "
            "the supply out, and the battery?"
        )
    if reason_of(result, "outside_list") is not None and not result.consistent:
        return "Cannot tell: none of the circuits known here explains the runs."
    if result.alternatives == ("wired", "faulty"):
        return (
            "Only wiring lies across the line in bypass: true bypass, unless a weak joint lies in "
            "line, which these runs cannot exclude."
        )
    if "wired" in result.excluded and reason_of(result, *SILICON_CODES) is not None:
        return (
            "Not wiring alone: what lies in line and across it looks like wire, but loud and soft "
            "do not pass alike. Silicon on the line does that, and a joint that rectifies."
        )
    left = [NAMES[p] for p in result.alternatives]
    if len(left) > 1:
        return f"Cannot tell {_list(left, 'from')}."
    return "Cannot tell what the path in bypass is."


def _excluded(result: Result) -> str:
    if not result.excluded:
        return ""
    names = _list([NAMES[p] for p in result.excluded], "and")
    verb = "are" if len(result.excluded) > 1 else "is"
    return f"{names[0].upper()}{names[1:]} {verb} excluded."


def _none(result: Result) -> str:
    if reason_of(result, "digital_return") is not None:
        return (
            "None: the recordings carry no analogue noise. A digital return of the interface was "
            "recorded, not a pedal."
        )
    same = reason_of(result, "same_as_reference")
    numbers = {} if same is None else same.numbers
    db = number(numbers, "db") if numbers else 0.0
    return (
        f"None: every run equals the reference within {max(db, 0.001):.3f} dB"
        f"{not_counted(numbers)}. A pedal does not do that; the coupler, the check cable or a "
        "digital return of the interface does."
    )


def _list(parts: list[str], word: str) -> str:
    if len(parts) < 2:
        return "".join(parts)
    joint = f" {word} "
    if word == "from" and len(parts) > 2:
        return f"{parts[0]} from {', '.join(parts[1:-1])} or {parts[-1]}"
    return f"{', '.join(parts[:-1])}{joint}{parts[-1]}"
