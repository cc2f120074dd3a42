"""What the guide says: the hook-up in plain words, cautions, and what a run already shows."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.plan.events import Ask, Choice, Notice, RunSummary
from loopback.plan.plans import PlanStep
from loopback.plan.runs import Lamp, Position, Power, RunLabel

HEARING = (
    "Headphones off and unplugged, loudspeakers unplugged: the sweep is sudden and loud.",
    "48 V (phantom) off. Direct monitoring off. Never a speaker output into an interface or pedal.",
)
RESISTOR_FIRST = "The resistor lead comes first: through it no pedal can be overdriven."
UNPOWERED = "Without power means: plug out and battery out. The level stays as low as it is."
PLAIN_UNPOWERED = (
    "The plain lead drives the pedal directly, and it has no power: do not raise any level now."
)
KEEP_STILL = "Tape both leads to the table now: a lead that moves costs 1 pF."

_START = Choice("start", "", "[Enter] starts")
_BACK = Choice("back", "b", "[b]ack")
_QUIT = Choice("quit", "q", "[q]uit")
_LAMPS = (
    Choice("lit", "l", "[l]it"),
    Choice("dark", "d", "[d]ark"),
    Choice("none", "n", "[n]o lamp"),
    Choice("start", "", "[Enter] not seen"),
)
_REPEAT = Choice("repeat", "r", "[r]epeat")
_PRESS = Choice("press", "p", "[p]ress and repeat")
_KEEP = Choice("keep", "k", "[k]eep")


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand before a run.

    Parameters
    ----------
    table : RunLabel or None
        What is connected now; None: not known, all of it is said.
    power : {"on", "off"} or None
        Whether the pedal has power, plugged in or not.
    switch : {"a", "b", "none"} or None
        Where its footswitch stands.
    lamp : {"lit", "dark", "none"} or None
        What the lamp showed before in the position that is wanted.
    fresh : bool
        Whether no run with the pedal was made yet: as found is as it is.
    """

    table: RunLabel | None = None
    power: Power | None = None
    switch: Position | None = None
    lamp: Lamp | None = None
    fresh: bool = True


def instruction(step: PlanStep, label: RunLabel, now: Standing) -> str:
    """Say what the hands do before a run.

    Parameters
    ----------
    step : PlanStep
        Of the plan.
    label : RunLabel
        Of the step, filled in.
    now : Standing
        How things stand.

    Returns
    -------
    str
        Short sentences, only about what changes.
    """
    table = now.table
    words = [*_lead_words(label, table), *_path_words(label, table), *_load_words(label, table)]
    if label.path == "pedal":
        words += _power_words(label, now)
        words += _switch_words(step, label, now)
    if label.level_db and (table is None or table.level_db != label.level_db):
        words.append(f"This run is played {-label.level_db:g} dB lower.")
    return " ".join(words) or "Nothing to change."


def _lead_words(label: RunLabel, before: RunLabel | None) -> list[str]:
    if before is None or before.feed == label.feed:
        return []
    words = [f"{label.feed.capitalize()} lead in place of the {before.feed} lead."]
    if before.path == label.path:
        words.append("Coupler stays." if label.path == "coupler" else "Pedal stays.")
    return words


def _path_words(label: RunLabel, before: RunLabel | None) -> list[str]:
    if before is None:
        return [f"{label.path.capitalize()}, {label.feed} lead."]
    if before.path != label.path:
        return [f"{label.path.capitalize()} in place of the {before.path}."]
    if before.direction != label.direction:
        return ["Swap the two plugs at the pedal: in and out exchanged."]
    if before.mating != label.mating and before.feed == label.feed:
        return [f"Pull both plugs at the {label.path} and plug them in again."]
    return []


def _load_words(label: RunLabel, before: RunLabel | None) -> list[str]:
    plugged = before is not None and before.load == "plug"
    if label.load == "plug" and not plugged:
        return ["Load plug across the input of the interface."]
    if plugged and label.load != "plug":
        return ["Load plug out."]
    return []


def _power_words(label: RunLabel, now: Standing) -> list[str]:
    if label.power == "on":
        return [] if now.power == "on" and _pedal_is_in(now) else ["Power on."]
    if now.power == "on":
        return ["Take the power plug out, and the battery if there is one."]
    if now.power == "off":
        return [] if _pedal_is_in(now) else ["Still no power."]
    return ["No power: plug out, battery out."]


def _pedal_is_in(now: Standing) -> bool:
    return now.table is not None and now.table.path == "pedal"


def _switch_words(step: PlanStep, label: RunLabel, now: Standing) -> list[str]:
    if label.position == "none":
        return []
    if step.switch == "as_found" and now.fresh:
        return ["Footswitch: as it is."]
    uncertain = now.switch is None or (step.switch == "to_bypass" and now.power != "on")
    if label.power == "on" and uncertain and now.lamp in ("lit", "dark"):
        other = "lit" if now.lamp == "dark" else "dark"
        return [f"Its lamp should be {now.lamp}; if it is {other}, press once."]
    if now.switch is None:
        place = "as found at first" if label.position == "a" else "one press on from as found"
        seen = f" (with power its lamp was {now.lamp})" if now.lamp in ("lit", "dark") else ""
        return [f"Footswitch: {place}{seen}."]
    if now.switch == label.position:
        return ["Do not press anything."]
    if step.switch == "to_bypass":
        return ["Press the footswitch once: this run is made in bypass."]
    return ["Press the footswitch once. Nothing else."]


def go(first: bool) -> Ask:
    """Ask whether to start.

    Parameters
    ----------
    first : bool
        Whether there is no run to go back to.

    Returns
    -------
    Ask
        Enter starts.
    """
    return Ask("", (_START, _QUIT) if first else (_START, _BACK, _QUIT), "start")


def lamp_question(label: RunLabel, seen_before: bool) -> Ask:
    """Ask what the lamp shows; the answer starts the run.

    Parameters
    ----------
    label : RunLabel
        Of the run.
    seen_before : bool
        Whether it was asked before; then in one word.

    Returns
    -------
    Ask
        A note, never evidence.
    """
    question = "Lamp?" if seen_before or label.position == "b" else "Is its lamp lit?"
    return Ask(question, (*_LAMPS, _BACK, _QUIT), "start")


def offer(what: str, *, press: bool, back: bool) -> Ask:
    """Offer one way out of a contradiction, and to leave it as it is.

    Parameters
    ----------
    what : str
        The question.
    press : bool
        Whether the way out is a press of the footswitch.
    back : bool
        Whether the run before may be the wrong one.

    Returns
    -------
    Ask
        Where nobody answers it is kept.
    """
    ways = (_PRESS if press else _REPEAT, *((_BACK,) if back else ()))
    return Ask(what, (*ways, _KEEP, _QUIT), "keep")


def run_line(summary: RunSummary, powered: RunSummary | None) -> str:
    """Say what a run already shows.

    Parameters
    ----------
    summary : RunSummary
        The run.
    powered : RunSummary or None
        For a run without power: the one with power in the same position.

    Returns
    -------
    str
        One line.
    """
    if summary.usable == 0:
        return "no take can be used"
    if summary.label.path == "coupler":
        return _reference_line(summary)
    if summary.passes is None:
        return "kept"
    if summary.effect:
        return f"{summary.effect}: the effect is on"
    if not summary.passes:
        down = f": {-summary.level_db:.0f} dB down at 1 kHz" if summary.level_db else ""
        return f"nothing passes{down}"
    apart = summary.apart_from(powered) if powered is not None else None
    if apart is not None and apart < SAME_DB:
        return f"same as with power, within {apart:.3f} dB"
    return f"passes, {_level_words(summary.level_db)}"


SAME_DB = 0.02
"""Two runs nearer than this at every frequency are the same. Runs of one hook-up differ by 0.003 to
0.01 dB (common practice); a pedal's position that does anything differs by more."""


def _reference_line(summary: RunSummary) -> str:
    if summary.since is not None:
        since = summary.since
        text = f"since run {since.run_id}: level {since.level_db:+.3f} dB"
        if since.capacitance_f is not None:
            text += f", setup capacitance {since.capacitance_f * 1e12:+.1f} pF"
        return text
    if summary.repeat_db is not None:
        return f"repeats within {max(summary.repeat_db, 0.001):.3f} dB"
    return "kept"


def _level_words(level_db: float | None) -> str:
    if level_db is None:
        return "level not compared"
    if abs(level_db) < 0.005:
        return "level as through the cable"
    size = f"{abs(level_db):.2f}" if abs(level_db) < 9.95 else f"{abs(level_db):.0f}"
    return f"{size} dB {'lower' if level_db < 0 else 'higher'} at 1 kHz"


def notice_lines(notice: Notice) -> tuple[str, tuple[str, ...]]:
    """Split a finding into its line and what follows below it.

    Parameters
    ----------
    notice : Notice
        Of a gate.

    Returns
    -------
    line, more : str, tuple of str
        The number, with the run where it is not this one; meaning and action.
    """
    line = notice.number if notice.here else f"run {notice.where}: {notice.number}"
    return line, tuple(part for part in (notice.meaning, notice.action) if part)
