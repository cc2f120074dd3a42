"""Setting up: a known part across the line, and whether it and the resistor lead agree."""

from __future__ import annotations

import msgspec

from loopback.errors import ArgumentError
from loopback.guided import setup_words as words
from loopback.guided.setup_asked import ListenShort
from loopback.guided.setup_listening import MOST_TRIES, Listening, Part, ready, refusal
from loopback.meter.check_lines import agreed_line, judge_check_plug, standard_line
from loopback.meter.check_plug import Checked, KnownPart, check_part
from loopback.meter.listen import Heard, joined
from loopback.meter.reading import Zero, find_zero
from loopback.meter.session import PLAIN_TAKES, ZERO_TAKES
from loopback.plan.events import Show, Tell
from loopback.plan.runs import Feed
from loopback.signal.take import Signal, short_signal

PLAIN = (
    "Check plug: plain lead and return lead on the coupler. If the plug needs a Y adapter, put"
    " that beside the coupler now, empty, and leave it there."
)
ZERO = "Resistor lead in place of the plain lead. Coupler and adapter stay."
PLUG = "Check plug in beside the coupler. Everything else stays."


def check_resistor(steps: Listening) -> Part[Checked | None]:
    """Read the check plug, if there is one, and tell what it says.

    Parameters
    ----------
    steps : Listening
        With level, resistor and wishes.

    Yields
    ------
    SetupRequest
        See `loopback.guided.setup_steps`.

    Returns
    -------
    Checked or None
        None without a check plug, or where nothing could be heard.

    Raises
    ------
    StoppedError
        If the user stops.
    """
    part, ohm, tolerance = steps.wishes.check_plug, steps.resistor_ohm, steps.resistor_tolerance
    if part is None or ohm is None or tolerance is None:
        return None
    signal = short_signal(steps.rate_hz, steps.level_dbfs)
    plain = yield from _listen(steps, signal, "plain", PLAIN, PLAIN_TAKES)
    checked: Checked | None = None
    for _ in range(MOST_TRIES):
        through = yield from _listen(steps, signal, "resistor", ZERO, ZERO_TAKES)
        zero = find_zero(
            joined(through, signal, "zero"),
            joined(plain, signal, "plain"),
            ohm,
            0.0,  # its tolerance is what is looked at: readings carry every other doubt
            learned=steps.wishes.learned,
        )
        if zero is None:
            yield Tell("Next to nothing comes back: the check plug is left out.", "look")
            return None
        checked = yield from _compare(steps, signal, part, zero, (ohm, tolerance))
        found = judge_check_plug(checked)
        if found is None:
            yield Tell(agreed_line(checked), "good")
            yield Tell(standard_line(checked), "good" if checked.better else "")
            return checked
        yield words.told(found)
        key = yield words.try_again(found.grade)
        if key == "quit":
            raise refusal(None)
        if key != "repeat":
            break
    return checked


def _compare(
    steps: Listening, signal: Signal, part: KnownPart, zero: Zero, typed: tuple[float, float]
) -> Part[Checked]:
    heard = yield from _listen(steps, signal, "resistor", PLUG, ZERO_TAKES, plugged=True)
    return check_part(part, heard, signal, zero, *typed)


def _listen(
    steps: Listening, signal: Signal, feed: Feed, text: str, takes: int, *, plugged: bool = False
) -> Part[tuple[Heard, ...]]:
    label = steps.label(feed)
    if plugged:
        label = msgspec.structs.replace(label, path="pedal", power="on", position="a")
    yield Show(text)
    yield from ready("")
    heard = yield ListenShort(label, signal, takes)
    if not isinstance(heard, tuple):
        raise ArgumentError(f"A ListenShort was answered with {heard!r}.")
    return heard
