"""The parts of setting up that play and listen: unplugged, the level, both leads, check cable."""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import replace
from typing import TypeVar

from loopback.errors import ArgumentError, LoopbackError, RigError, StoppedError
from loopback.guided import setup_words as words
from loopback.guided.hearing import Heard
from loopback.guided.setup_asked import Listen, SetupAnswer, SetupRequest, Wishes
from loopback.guided.setup_findings import (
    judge_arrival,
    judge_check,
    judge_level,
    judge_mains,
    judge_unplugged,
)
from loopback.plan.drawing import Sockets, draw
from loopback.plan.events import Ask, Choice, Show, Tell
from loopback.plan.runs import Feed, RunLabel
from loopback.quality.finding import Finding
from loopback.quality.gates import judge_runs
from loopback.quality.processing import tone_pair_error_db
from loopback.quantity import with_prefix

START_DBFS = -36.0
"""Of the first tones through a new setup. Even a hot output makes a tenth of a volt of it."""
STEP_DB = 12.0
TARGET_PEAK_DBFS = -12.0
"""Peak that the working level makes through the coupler: an effect may be 10 dB louder."""
MOST_TRIES = 4

_T = TypeVar("_T")
Part = Generator[SetupRequest, SetupAnswer, _T]


def refusal(found: Finding | None) -> LoopbackError:
    """Make the error that ends a setting up.

    Parameters
    ----------
    found : Finding or None
        What stood in the way; None: the user stopped.

    Returns
    -------
    LoopbackError
        To be raised.
    """
    if found is None:
        return StoppedError("Stopped.", "Nothing was saved.", "Start again: loopback setup")
    return RigError(f"{found.number[:1].upper()}{found.number[1:]}.", found.meaning, found.action)


class Listening:
    """The parts of setting up that listen, with what they have found so far.

    Parameters
    ----------
    wishes : Wishes
        What is known beforehand.
    """

    def __init__(self, wishes: Wishes) -> None:
        self.wishes = wishes
        self.rate_hz = wishes.rates_hz[0]
        self.level_dbfs = min(START_DBFS, wishes.ceiling_dbfs)
        self.resistor_ohm = wishes.resistor_ohm
        self.resistor_tolerance = wishes.resistor_tolerance
        self.sockets = Sockets(wishes.output, wishes.input)

    def unplugged(self) -> Part[Heard]:
        """Listen with nothing plugged in."""
        label = RunLabel("unplugged", "plain")
        yield Show(words.UNPLUG)
        for _ in range(MOST_TRIES):
            yield from ready("")
            heard = yield from self._listen(label, self.level_dbfs, 3.0)
            found = heard.bad or judge_unplugged(heard)
            if found is None:
                yield Tell(words.noise_text(heard), "good")
                return heard
            if not (yield from _put_right(found)):
                return heard
        raise refusal(found)

    def find_level(self, feed: Feed, what: str) -> Part[Heard]:
        """Raise the level step by step until enough arrives, the ceiling stands, or it clips."""
        label = self.label(feed)
        ceiling = self.wishes.ceiling_dbfs
        yield Show(what or words.FEED[feed], drawing=draw(label, sockets=self.sockets))
        yield Tell(
            f"Finding a level, quietly first: {self.level_dbfs:g} dBFS, never above"
            f" {ceiling:g} dBFS."
        )
        yield from ready("")
        found: Finding | None = None
        for _ in range(MOST_TRIES):
            heard, found = yield from self._rise(label)
            if found is None:
                break
            if not (yield from _put_right(found)):
                break
        else:
            raise refusal(found)
        yield Tell(
            f"Peak {heard.peak_dbfs:.1f} dBFS at a working level of {self.level_dbfs:g} dBFS",
            "good" if heard.bad is None else "look",
        )
        yield from self._remarks(heard)
        return heard

    def compare(self, resistor: Heard) -> Part[tuple[Heard, Heard]]:
        """Listen through the plain lead, and see that the two leads are what they should be."""
        found: Finding | None = None
        plain: Heard | None = None
        again: Feed = "plain"
        for _ in range(MOST_TRIES):
            label = self.label(again)
            text = words.FEED[again] if again == "plain" else "Resistor lead in, coupler stays."
            yield Show(text, drawing=draw(label, sockets=self.sockets))
            yield from ready("")
            heard = yield from self._listen(label, self.level_dbfs)
            found = self._arrival(heard) or heard.bad
            if found is None:
                if again == "plain":
                    plain = heard
                else:
                    resistor = heard
                if plain is None:
                    again = "plain"
                    continue
                found = _between(resistor, plain)
                if found is None:
                    yield Tell(f"Peak {plain.peak_dbfs:.1f} dBFS through the plain lead", "good")
                    return resistor, plain
                again = "resistor" if found.code == "resistor_forgotten" else "plain"
                if found.code == "line_input":
                    again = "resistor"  # both have to be heard again through the other input
            if not (yield from _put_right(found)) and plain is not None:
                return resistor, plain
            if found.code == "line_input":
                plain = None
        raise refusal(found)

    def check_cable(self) -> Part[bool]:
        """Offer the check cable where there are sockets for it."""
        wishes = self.wishes
        if wishes.check_output is None or wishes.check_input is None or wishes.check is False:
            return False
        offer = words.CHECK_OFFER.format(output=wishes.check_output, input=wishes.check_input)
        if wishes.check is None:
            choices = (Choice("yes", "y", "[y]es"), Choice("no", "n", "[n]o"))
            if (yield Ask(offer, choices, "no")) != "yes":
                return False
        for _ in range(MOST_TRIES):
            label = self.label("plain")
            heard = yield from self._listen(label, self.level_dbfs, check=True)
            found = judge_check(heard, wishes.check_input)
            if found is None and heard.check_delay_s is not None:
                apart = with_prefix(abs(heard.check_delay_s), "s", 2)
                yield Tell(
                    f"Check cable heard on input {wishes.check_input}, same delay within {apart}",
                    "good",
                )
                return True
            if found is not None and not (yield from _put_right(found)):
                return False
        return False

    def label(self, feed: Feed) -> RunLabel:
        """Return the label of a run on the coupler with that lead."""
        if feed == "plain":
            return RunLabel("coupler", "plain")
        return RunLabel(
            "coupler",
            "resistor",
            resistor_ohm=self.resistor_ohm,
            resistor_tolerance=self.resistor_tolerance,
            resistor_end=self.wishes.resistor_end,
        )

    def _rise(self, label: RunLabel) -> Part[tuple[Heard, Finding | None]]:
        """Go up from the quiet start; what spoils the first step is not made louder."""
        ceiling = self.wishes.ceiling_dbfs
        level = min(START_DBFS, ceiling)
        heard = yield from self._listen(label, level)
        last = heard
        while True:
            found = self._arrival(heard) or heard.bad
            if found is not None and found.code == "too_low":
                found = None  # quiet is what this begins with
            if found is not None and heard is last:
                return heard, found
            if found is not None:  # too loud for something: stay one step below
                yield words.told(replace(found, grade="look"))
                yield Tell(f"So the level stays at {last.signal.level_dbfs:g} dBFS.")
                heard, found = last, None
                break
            wanted = level + TARGET_PEAK_DBFS - heard.peak_dbfs
            wanted = float(math.floor(min(wanted, ceiling) + 1e-6))
            if wanted <= level:
                break
            last = heard
            level = min(wanted, level + STEP_DB)
            heard = yield from self._listen(label, level)
        self.level_dbfs = heard.signal.level_dbfs
        return heard, heard.bad or judge_level(heard)

    def _listen(
        self, label: RunLabel, level_dbfs: float, silence_s: float = 0.0, *, check: bool = False
    ) -> Part[Heard]:
        heard = yield Listen(label, level_dbfs, self.rate_hz, silence_s, check)
        if not isinstance(heard, Heard):
            raise ArgumentError(f"A Listen was answered with {heard!r}.")
        slower = [rate for rate in self.wishes.rates_hz if rate < self.rate_hz]
        converted = heard.codes & {"resampled", "lossy"}
        if converted and slower:
            self.rate_hz = slower[0]
            yield Tell(
                f"{heard.signal.rate_hz / 1000:g} kHz is not honest here: the system converts."
                f" Going on at {self.rate_hz / 1000:g} kHz.",
                "look",
            )
            return (yield from self._listen(label, level_dbfs, silence_s, check=check))
        return heard

    def _arrival(self, heard: Heard) -> Finding | None:
        return judge_arrival(heard, self.wishes.output, self.wishes.input)

    def _remarks(self, heard: Heard) -> Part[None]:
        remarks = [f for f in heard.findings if f.grade == "look"]
        hum = judge_mains(heard)
        for found in (*remarks, *([hum] if hum else [])):
            yield words.told(found)
        if not remarks and heard.bad is None and heard.seen is not None:
            apart = 20.0 + tone_pair_error_db(heard.seen.takes[0].tones)[0]
            yield Tell(
                f"Same clock, no processing, no resampling, tones {apart:.3f} dB apart", "good"
            )


def ready(question: str) -> Part[None]:
    """Wait until the hands are ready.

    Parameters
    ----------
    question : str
        In a word.

    Yields
    ------
    SetupRequest
        One question.

    Raises
    ------
    StoppedError
        If the user stops.
    """
    if (yield words.ready(question)) == "quit":
        raise refusal(None)


def _put_right(found: Finding) -> Part[bool]:
    """Tell a finding and offer to try again; False: go on as it is."""
    yield words.told(found)
    key = yield words.try_again(found.grade)
    if key == "quit":
        raise refusal(found if found.grade == "refuse" else None)
    return key == "repeat"


def _between(resistor: Heard, plain: Heard) -> Finding | None:
    """Compare the two leads; the first thing that is wrong."""
    seen = [heard.seen for heard in (resistor, plain) if heard.seen is not None]
    seen = sorted(seen, key=lambda item: item.run.id)
    findings = judge_runs([item.run for item in seen], seen)
    wrong = {
        "resistor_forgotten": "both leads sound the same, and flat up to 15 kHz",
        "resistor_left_in": "both leads sound the same, and lose treble",
    }
    for found in findings:
        if found.code in wrong:
            return replace(found, number=wrong[found.code])
        if found.code == "line_input" and found.grade != "good":
            return found
    return None
