"""What setting up says and asks; and the findings that only setting up can make."""

from __future__ import annotations

import math

from loopback.guided.hearing import Heard
from loopback.plan.events import Ask, Choice, Tell
from loopback.plan.wording import HEARING
from loopback.quality.finding import Finding

CAUTIONS = HEARING
KNOBS = (
    "On the interface: input {input}: INST (Hi-Z) on, gain down to its stop; output knob up to its"
    " stop. Then leave both alone."
)
UNPLUG = "Leads out of both sockets, please."
FEED = {
    "resistor": "Join resistor lead and return lead with the coupler; resistor next to it.",
    "plain": "Plain lead in place of the resistor lead. Coupler stays.",
}
PLAIN_FIRST = "Join plain lead and return lead with the coupler."
CHECK_OFFER = (
    "A spare lead? OUT {output} to IN {input} (line, INST off) lets me see a bad contact in ohms."
)
METER = (
    "A meter set to AC volts across tip and sleeve of output {output}, at the coupler. A tone of"
    " 200 Hz at {level:g} dBFS plays for {seconds:.0f} s: read the meter meanwhile."
)


def told(finding: Finding) -> Tell:
    """Write a finding.

    Parameters
    ----------
    finding : Finding
        Of a gate.

    Returns
    -------
    Tell
        Line, meaning, action.
    """
    more = tuple(text for text in (finding.meaning, finding.action) if text)
    return Tell(finding.number, "bad" if finding.grade == "refuse" else "look", more)


def ready(question: str = "Done?") -> Ask:
    """Ask whether the hands are ready.

    Parameters
    ----------
    question : str
        In a word.

    Returns
    -------
    Ask
        Enter goes on.
    """
    return Ask(question, (Choice("start", "", "[Enter]"), Choice("quit", "q", "[q]uit")), "start")


def try_again(grade: str) -> Ask:
    """Offer to try again or to go on.

    Parameters
    ----------
    grade : str
        Of what was found; where nobody answers, what is refused ends the setting up.

    Returns
    -------
    Ask
        One choice.
    """
    again, on = Choice("repeat", "t", "[t]ry again"), Choice("keep", "g", "[g]o on")
    stop = Choice("quit", "q", "[q]uit")
    if grade == "refuse":
        return Ask("", (again, on, stop), "quit")
    return Ask("Try again, or go on?", (again, on, stop), "keep")


def noise_text(heard: Heard) -> str:
    """Say what is heard with nothing plugged in.

    Parameters
    ----------
    heard : Heard
        That run.

    Returns
    -------
    str
        Floor and leakage.
    """
    level = heard.noise.a_weighted_dbfs.value if heard.noise is not None else -math.inf
    leak = heard.leak_db if heard.leak_db is not None else -math.inf
    return f"Unplugged floor {level:.0f} dBFS(A), nothing leaks across above {leak:.0f} dB"
