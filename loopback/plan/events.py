"""What passes between the guide and whoever stands before it: events in, requests out.

Frozen records without behaviour. A front end answers `Ask` with an `Answer`, and `Play` with one
`TakeDone` for each take and one `RunSeen`; `Show`, `Tell` and `Done` want no answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.plan.runs import Position, RunLabel

Key = Literal[
    "start", "back", "quit", "lit", "dark", "none", "repeat", "press", "keep", "yes", "no"
]  # fmt: skip
"""start: go, with nothing to add (the lamp was not looked at); none: there is no lamp."""
Mark = Literal["good", "look", "bad", ""]


@dataclass(frozen=True, slots=True)
class Notice:
    """A finding in the words of the gates, as far as the guide needs it.

    Parameters
    ----------
    code : str
        The gate's stable word.
    mark : {"good", "look", "bad"}
        bad: what it names cannot be used.
    number, meaning, action : str
        What was found, what it means, the one thing to do.
    here : bool
        Whether it concerns the run just made; else an earlier one, named in `where`.
    where : str
        Run, or run and take.
    passing : bool
        Whether the same hook-up, simply played again, may come out well.
    """

    code: str
    mark: Mark
    number: str
    meaning: str
    action: str = ""
    here: bool = True
    where: str = ""
    passing: bool = False


@dataclass(frozen=True, slots=True)
class Since:
    """What changed between a reference and the one before it with the same leads.

    Parameters
    ----------
    run_id : str
        The earlier one.
    level_db : float
        Level, 200 Hz to 2 kHz.
    capacitance_f : float or None
        Setup capacitance, farads; None with the plain lead, which does not show it.
    """

    run_id: str
    level_db: float
    capacitance_f: float | None = None


@dataclass(frozen=True, slots=True)
class RunSummary:
    """What one run already shows by itself and against the runs before it.

    Parameters
    ----------
    run_id : str
        Its id in the folder.
    label : RunLabel
        As it was asked for.
    usable : int
        Takes that can be used; 0 when the run itself is refused.
    recorded : int
        Takes that were recorded.
    silence : bool
        Whether there is a long silence.
    passes : bool or None
        Whether the signal arrives; None where that cannot be told.
    level_db : float or None
        Level at 1 kHz against the reference; None for references.
    effect : str
        What shows that an effect is on; empty: nothing does.
    repeat_db : float or None
        Largest difference between takes; None with fewer than two.
    apart_db : tuple of (str, float)
        For each earlier run with the same load: its id, and the largest difference of the level,
        200 Hz to 15 kHz.
    since : Since or None
        For a reference that has one before it.
    bypass : {"a", "b", "none"} or None
        Position that is bypass by all runs so far; None: not known.
    notices : tuple of Notice
        What the gates found with this run that they had not found before.
    """

    run_id: str
    label: RunLabel
    usable: int
    recorded: int
    silence: bool = False
    passes: bool | None = None
    level_db: float | None = None
    effect: str = ""
    repeat_db: float | None = None
    apart_db: tuple[tuple[str, float], ...] = ()
    since: Since | None = None
    bypass: Position | None = None
    notices: tuple[Notice, ...] = ()

    def apart_from(self, other: RunSummary) -> float | None:
        """Return the largest difference from an earlier run, dB; None: not compared."""
        return dict(self.apart_db).get(other.run_id)


@dataclass(frozen=True, slots=True)
class Start:
    """The first event: begin, or go on where the runs kept so far end."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was chosen.

    Parameters
    ----------
    key : Key
        One of the choices asked for.
    """

    key: Key


@dataclass(frozen=True, slots=True)
class TakeDone:
    """One take of the run that is being played was recorded, kept and looked at.

    Parameters
    ----------
    number : int
        Take of the run, from 1.
    trouble : Notice or None
        Why it cannot be used; None: it can.
    """

    number: int
    trouble: Notice | None = None


@dataclass(frozen=True, slots=True)
class RunSeen:
    """All takes asked for are recorded, and the run was compared with those before.

    Parameters
    ----------
    summary : RunSummary
        What it shows.
    """

    summary: RunSummary


Event = Start | Answer | TakeDone | RunSeen


@dataclass(frozen=True, slots=True)
class Show:
    """What the hands are to do now.

    Parameters
    ----------
    text : str
        One action, in plain words.
    number, total : int
        Which run of how many; 0: no run of its own.
    drawing : str
        How it is connected, one line; empty where the hands leave the leads alone.
    cautions : tuple of str
        Printed above it.
    """

    text: str
    number: int = 0
    total: int = 0
    drawing: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer.

    Parameters
    ----------
    key : Key
        What it is called in an `Answer`.
    letter : str
        What is typed; empty: Enter.
    word : str
        What it says.
    """

    key: Key
    letter: str
    word: str


@dataclass(frozen=True, slots=True)
class Ask:
    """A question; the guide waits for the answer.

    Parameters
    ----------
    question : str
        May be empty where the choices say it all.
    choices : tuple of Choice
        At least one.
    default : Key
        What Enter gives, and what is taken where nobody answers.
    """

    question: str
    choices: tuple[Choice, ...]
    default: Key


@dataclass(frozen=True, slots=True)
class Play:
    """Play and record.

    Parameters
    ----------
    label : RunLabel
        What is connected.
    takes : int
        How many.
    silence_s : float
        Long silence after them, seconds.
    into : str
        Run that the takes are added to; empty: a new run.
    repeats : str
        Run that the new one takes the place of; empty: none.
    """

    label: RunLabel
    takes: int
    silence_s: float = 0.0
    into: str = ""
    repeats: str = ""


@dataclass(frozen=True, slots=True)
class Tell:
    """A finding.

    Parameters
    ----------
    text : str
        One line; its number stands in it.
    mark : {"good", "look", "bad", ""}
        How it ends.
    more : tuple of str
        What it means and what to do, one line each.
    """

    text: str
    mark: Mark = ""
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """The guide has nothing more to ask.

    Parameters
    ----------
    complete : bool
        Whether every run of the plan is there; False: stopped on the way.
    text : str
        What is safe to do now.
    """

    complete: bool
    text: str


Request = Show | Ask | Play | Tell | Done
