"""What a run is called on screen and beside its curve, and which colour its state has."""

from __future__ import annotations

from loopback.examination.records import Run
from loopback.plan.runs import RunLabel
from loopback.quantity import with_prefix

_POSITIONS = {"a": "as found", "b": "pressed", "none": "no switch"}
_STATES = (("on", "a"), ("on", "b"), ("off", "a"), ("off", "b"))


def feed_name(label: RunLabel, resistor_ohm: float | None = None) -> str:
    """Name the feed: ``plain`` or the resistor's value.

    Parameters
    ----------
    label : RunLabel
        Of the run.
    resistor_ohm : float or None
        The setup's own resistor, where the label names none.

    Returns
    -------
    str
        ``"plain"``, ``"100 kΩ"``, or ``"resistor"`` when its value is not known.
    """
    if label.feed == "plain":
        return "plain"
    value = label.resistor_ohm or resistor_ohm
    return "resistor" if value is None else with_prefix(value, "Ω")


def fed_words(label: RunLabel) -> str:
    """Say what feeds the pedal.

    Parameters
    ----------
    label : RunLabel
        Of the run.

    Returns
    -------
    str
        Without a full stop.
    """
    if label.resistor_ohm is None or label.feed == "plain":
        return "fed by the interface itself"
    return f"fed through {with_prefix(label.resistor_ohm, 'Ω')}"


def run_name(run: Run, *, bypass_position: str | None = None) -> str:
    """Name a run by what was done: ``03 on, pressed, 100 kΩ``.

    Parameters
    ----------
    run : Run
        As recorded.
    bypass_position : str or None
        From the result; runs in that position get a star.

    Returns
    -------
    str
        Short enough to stand beside a curve.
    """
    label = run.label
    words: list[str] = []
    if label.path == "coupler":
        words.append("cable")
    elif label.path == "unplugged":
        words.append("unplugged")
    else:
        if label.power is not None:
            words.append(label.power)
        if label.position is not None:
            words.append(_POSITIONS[label.position])
    words.append(feed_name(label))
    if label.load == "plug":
        plug = "a load plug" if label.load_ohm is None else with_prefix(label.load_ohm, "Ω")
        words.append(f"into {plug}")
    elif label.load == "line":
        words.append("line input")
    if label.direction == "reversed":
        words.append("reversed")
    if label.level_db:
        words.append(f"{-label.level_db:g} dB lower")
    star = "*" if is_bypass(label, bypass_position) else ""
    return f"{run.id}{star} {', '.join(words)}"


def is_bypass(label: RunLabel, bypass_position: str | None) -> bool:
    """Whether a run was made in the position that the data found to be bypass.

    Parameters
    ----------
    label : RunLabel
        Of the run.
    bypass_position : str or None
        From the result; None: not found.

    Returns
    -------
    bool
        False for every run that has no pedal in the path.
    """
    return (
        label.path == "pedal" and bypass_position is not None and label.position == bypass_position
    )


def state_number(label: RunLabel) -> int:
    """Give each state of power and switch a number.

    Parameters
    ----------
    label : RunLabel
        Of the run.

    Returns
    -------
    int
        0 to 5; runs of equal state share it, and with it colour and marker.
    """
    state = (label.power or "on", label.position or "a")
    if state in _STATES:
        return _STATES.index(state)
    return 4 if state[0] == "on" else 5
