"""What is burnt into every picture: which pedal, when, and on what setup."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.quantity import estimate_text
from loopback.report.dates import date_text
from loopback.verdict.wording import stated_text


def where_and_when(analysis: Analysis) -> str:
    """Write what every caption begins with: pedal, day, setup, resistor, capacitance, level.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        One sentence; what the star means comes after it.
    """
    document = analysis.examination
    pedal = document.pedal
    extra = [
        word
        for word in (
            pedal.maker,
            pedal.model,
            pedal.revision and f"revision {pedal.revision}",
            pedal.mode,
            pedal.supply,
        )
        if word
    ]
    name = pedal.name + (f" ({', '.join(extra)})" if extra else "")
    parts = [name, date_text(document.created)]
    setup = document.setup
    parts.append(
        f"simulated interface {setup.name}".rstrip()
        if setup.rig == "simulator"
        else setup.name or "recordings made elsewhere"
    )
    result = analysis.result
    if result.resistor is not None and result.setup_c is not None:
        parts.append(
            f"{stated_text(result.resistor)} at the pedal, "
            f"setup {estimate_text(result.setup_c, 'F')} (95 %)"
        )
    parts.append(f"played at {document.signal.level_dbfs:g} dBFS")
    star = " *: bypass." if analysis.result.bypass_position is not None else ""
    return "; ".join(parts) + "." + star
