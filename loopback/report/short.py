"""The result in one line and in a few: for a video, a forum, a ticket."""

from __future__ import annotations

from dataclasses import replace

import msgspec

from loopback import __version__
from loopback.facts import Analysis
from loopback.player.sentences import player_line
from loopback.quantity import estimate_text
from loopback.report.dates import date_text
from loopback.report.text import short_line
from loopback.texts import one_line
from loopback.verdict.sentences import (
    claim_line,
    meter_lines,
    not_tested_line,
    result_sentences,
    size_line,
)
from loopback.verdict.sentences_expected import expectation_sentence
from loopback.verdict.sentences_faults import fault_line, fault_words
from loopback.verdict.wording import stated_text

MOST_LINE = 280
"""Characters of the one line: what the shortest of posts holds (common practice)."""
_MOST_NAME = 60
_LEAST_NAME = 12


def line_form(analysis: Analysis) -> str:
    """Write the result in one line of at most `MOST_LINE` characters.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        Pedal, result, what was found with its interval, power, conditions and day. A long name
        is cut before anything else is.
    """
    name = one_line(analysis.examination.pedal.name, _MOST_NAME)
    line = short_line(_named(analysis, name))
    over = len(line) - MOST_LINE
    if over > 0:
        line = short_line(_named(analysis, one_line(name, max(_LEAST_NAME, len(name) - over))))
    return one_line(line, MOST_LINE)


def short_form_text(analysis: Analysis) -> str:
    """Write the result in a few lines of plain text, each a whole statement.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        Lines are not broken, so that whatever it is pasted into can break them.
    """
    result, document = analysis.result, analysis.examination
    pedal = document.pedal
    about = ", ".join(
        one_line(word, _MOST_NAME)
        for word in (pedal.maker, pedal.model, pedal.revision, pedal.mode, pedal.supply)
        if word
    )
    name = one_line(pedal.name, _MOST_NAME) + (f" ({about})" if about else "")
    meter = [f"{line.what} {line.value}" for line in meter_lines(result)]
    faults = fault_words(analysis.faults)
    lines = [
        f"{name} in bypass, measured {date_text(document.created)}",
        " ".join(result_sentences(result)),
        f"Size: {size_line(result)}" if size_line(result) else "",
        f"As on a meter: {'; '.join(meter)}." if meter else "",
        f"Fault: {fault_line(faults[0])}" if faults else "",
        "" if analysis.player is None else f"For a player: {_ended(player_line(analysis.player))}",
        _claimed(analysis),
        f"Expectation: {expectation_sentence(analysis.expected)}" if analysis.expected else "",
        f"Not tested: {not_tested_line(result)}" if not_tested_line(result) else "",
        _how(analysis),
    ]
    return "\n".join(one_line(line, 600) for line in lines if line)


def _named(analysis: Analysis, name: str) -> Analysis:
    pedal = msgspec.structs.replace(analysis.examination.pedal, name=name)
    document = msgspec.structs.replace(analysis.examination, pedal=pedal)
    return replace(analysis, examination=document)


def _claimed(analysis: Analysis) -> str:
    text = claim_line(analysis.result, one_line(analysis.examination.pedal.claim, _MOST_NAME))
    return f"Claim: {_ended(text)}" if text else ""


def _ended(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _how(analysis: Analysis) -> str:
    """Say what it was measured with; what stands after ± is said once."""
    result, setup = analysis.result, analysis.examination.setup
    parts = ["simulated" if setup.rig == "simulator" else one_line(setup.name, _MOST_NAME)]
    if result.resistor is not None and result.setup_c is not None:
        parts.append(
            f"through {stated_text(result.resistor)}, setup {estimate_text(result.setup_c, 'F')}"
        )
    parts.append(f"loopback {__version__}")
    return f"Measured with: {'; '.join(part for part in parts if part)}. ± covers 95 %."
