"""An expectation in words: what was expected, and whether it is met."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.quantity import with_prefix
from loopback.verdict.expected import Expected, surely_not_met
from loopback.verdict.wording import written_out


def expected_lines(lines: Sequence[Expected], plain: bool = False) -> tuple[str, ...]:
    """Write each line of an expectation.

    Parameters
    ----------
    lines : sequence of Expected
        From `loopback.verdict.expected.compare_expected`.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    tuple of str
        Such as ``at most 30 pF: met``.
    """
    return tuple(written_out(f"{_what(line)}: {_outcome(line)}", plain) for line in lines)


def expectation_sentence(lines: Sequence[Expected], plain: bool = False) -> str:
    """Say in one sentence how the whole expectation stands.

    Parameters
    ----------
    lines : sequence of Expected
        From `loopback.verdict.expected.compare_expected`.
    plain : bool
        True writes signs out.

    Returns
    -------
    str
        One sentence.
    """
    missed = [_what(line) for line in lines if line.outcome == "not met"]
    unknown = [_what(line) for line in lines if line.outcome == "undecided"]
    if surely_not_met(lines):
        text = f"Not as expected: {', '.join(missed)}."
    elif unknown:
        text = f"As expected so far; these runs cannot tell: {', '.join(unknown)}."
    else:
        text = "As expected in every line."
    return written_out(text, plain)


def _what(line: Expected) -> str:
    wanted = line.wanted
    if isinstance(wanted, bool):
        word = {
            "true_bypass": "true bypass",
            "buffered": "buffered",
            "passes_unpowered": "passes without power",
        }[line.key]
        return word if wanted else f"not {word}" if line.key != "passes_unpowered" else (
            "nothing passes without power"
        )  # fmt: skip
    unit = "F" if line.key == "most_capacitance" else "Ω"
    value = with_prefix(wanted, unit, 2)
    return {
        "pulldown": f"{value} across the line",
        "least_resistance": f"at least {value} across the line",
        "most_capacitance": f"at most {value}",
        "most_in_to_out": f"in to out at most {value}",
    }[line.key]


def _outcome(line: Expected) -> str:
    if line.by_allowance:
        return "met, since a pulldown is allowed"
    if line.lacks_allowance:
        return "not met (met if a pulldown is allowed: allow_pulldown = true)"
    if line.outcome == "undecided":
        if line.probability is None:
            return "cannot be told from these runs"
        return f"undecided, {100 * line.probability:.0f} % inside the limit"
    return line.outcome
