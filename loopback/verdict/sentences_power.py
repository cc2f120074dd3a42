"""What happens without power, and which kinds of pedal do that."""

from __future__ import annotations

from loopback.verdict.codes import Family
from loopback.verdict.result import PowerClass, Result
from loopback.verdict.sentences_path import reason_of
from loopback.verdict.wording import refused_runs

_WHERE: dict[PowerClass, str] = {
    "bypass_position": "Passes without power in the bypass position.",
    "always": "Passes without power in both positions.",
    "keeps_last": "Keeps its last state without power.",
    "never": "Nothing passes without power.",
    "untested": "Not tested without power.",
}
_OR: dict[PowerClass, str] = {
    "bypass_position": "only the bypass position may pass",
    "always": "it may always pass",
    "keeps_last": "it may only have kept its last state",
    "never": "it may never pass",
    "untested": "it was not tested",
}
FAMILIES: dict[Family, str] = {
    "mechanical": "a mechanical switch",
    "relay_fail_safe": "a relay that falls back",
    "relay_latching": "a latching relay",
    "electronic": "electronic switching with buffers",
    "mechanical_with_buffer": "a mechanical switch with a buffer always on",
    "digital": "a digital path",
    "passive_box": "a passive box",
}


def power_sentence(result: Result) -> str:
    """Say what happens without power, in one sentence.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence.
    """
    if result.power == "always" and result.bypass_position == "none":
        return "Passes without power."
    if {result.power, *result.power_alternatives} == {"never", "keeps_last"}:
        return (
            "Keeps its last state without power, or never passes: pulling the power while it is in "
            "bypass tells."
        )
    sentence = _WHERE[result.power]
    if result.power_alternatives:
        sentence = f"{sentence[:-1]}; {_OR[result.power_alternatives[0]]}."
    lost = reason_of(result, "unpowered_refused")
    if lost is not None:
        runs = refused_runs(lost.numbers)
        if result.power == "untested":
            return f"{sentence[:-1]} ({runs})."
        return f"{sentence[:-1]}; the other position was not tested ({runs})."
    return sentence


def family_sentence(result: Result) -> str:
    """Name the kinds of pedal that the table allows; empty when it says nothing.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence, or empty.
    """
    if result.power == "untested" or not result.families:
        return ""
    names = [FAMILIES[f] for f in result.families]
    if result.path == "loaded":  # a passive path has no buffers in it
        names = [name.replace("with buffers", "without buffers") for name in names]
    if len(names) == 1:
        return f"Consistent with {names[0]}."
    listed = f"{', '.join(names[:-1])} or {names[-1]}"
    return f"Consistent with {listed}; from outside these look the same."
