"""Numbers as the result prose writes them: value, sign, doubt; bounds where nothing is resolved."""

from __future__ import annotations

import math

from loopback.quantity import Estimate, estimate_text, round_together, with_prefix

ONE_SIDED_95 = 1.6448536269514722
LEAD_FARAD_PER_CM = 1e-12
"""Common practice: 100 pF per metre of instrument lead."""

_WRITTEN_OUT = (
    ("Ω", "ohm"),
    ("±", "+/-"),
    ("µ", "u"),
    ("−", "-"),
    ("·", "-"),
    ("→", "->"),
)


def written_out(text: str, plain: bool) -> str:
    """Replace signs that a small console may lack, when `plain` is true.

    Parameters
    ----------
    text : str
        With any signs.
    plain : bool
        True writes signs out: ``ohm``, ``+/-``.

    Returns
    -------
    str
        The text.
    """
    if plain:
        for sign, word in _WRITTEN_OUT:
            text = text.replace(sign, word)
    return text


def capacitance_text(c: Estimate) -> str:
    """Capacitance with what covers 95 %, or the bound under which it lies.

    Parameters
    ----------
    c : Estimate
        Farads.

    Returns
    -------
    str
        Such as ``19.2 pF ± 0.7`` or ``under 2.0 pF``.
    """
    if c.half_width() > 0.7 * c.value:
        bound = max(c.value, 0.0) + ONE_SIDED_95 * c.u
        return f"under {with_prefix(_up(bound), 'F', 2)}"
    return estimate_text(c, "F")


def resistance_text(g: Estimate) -> str:
    """Resistance of a conductance with what covers 95 %, or the bound over which it lies.

    Parameters
    ----------
    g : Estimate
        Siemens.

    Returns
    -------
    str
        Such as ``1.00 MΩ ± 0.01`` or ``over 50 MΩ``.
    """
    if g.half_width() > 0.5 * g.value:
        bound = 1 / (max(g.value, 0.0) + ONE_SIDED_95 * g.u)
        return f"over {with_prefix(_down(bound), 'Ω', 2)}"
    return estimate_text(Estimate(1 / g.value, g.u / g.value**2, "ohm"), "Ω")


def ohm_text(r: Estimate) -> str:
    """Resistance in line with what covers 95 %, or the bound under which it lies.

    Parameters
    ----------
    r : Estimate
        Ohms.

    Returns
    -------
    str
        Such as ``89 Ω ± 10`` or ``under 8.0 Ω``.
    """
    if r.half_width() > 0.7 * r.value:
        return f"under {with_prefix(_up(max(r.value, 0.0) + ONE_SIDED_95 * r.u), 'Ω', 2)}"
    return estimate_text(r, "Ω")


def decibel_text(level: Estimate) -> str:
    """Level with sign and what covers 95 %.

    Parameters
    ----------
    level : Estimate
        dB.

    Returns
    -------
    str
        Such as ``-0.19 dB ± 0.01``.
    """
    value, half = round_together(level.value, level.half_width())
    return f"{_signed(value)} dB ± {half}"


def decibel(value: float, places: int = 1) -> str:
    """Bare level with sign; never a negative zero.

    Parameters
    ----------
    value : float
        dB.
    places : int
        Decimals.

    Returns
    -------
    str
        Such as ``+12.8 dB``.
    """
    return f"{_signed(f'{value:.{places}f}')} dB"


def about(value: float, unit: str) -> str:
    """Two digits with prefix, for values that explain rather than measure.

    Parameters
    ----------
    value : float
        In base units.
    unit : str
        Printed unit.

    Returns
    -------
    str
        Such as ``about 22 nF``.
    """
    return f"about {with_prefix(value, unit, 2)}"


def hertz(value: float) -> str:
    """Frequency in the unit people say.

    Parameters
    ----------
    value : float
        Hertz.

    Returns
    -------
    str
        Such as ``37.8 kHz``.
    """
    return f"{value / 1e3:.3g} kHz" if value >= 1000 else f"{value:.3g} Hz"


def sure_text(certainty: float | None) -> str:
    """How sure, as a bound that is really kept; empty without a certainty.

    Parameters
    ----------
    certainty : float or None
        Probability; None: no statement.

    Returns
    -------
    str
        Such as ``over 99 % sure``.
    """
    if certainty is None:
        return ""
    for bound, words in ((0.999, "99.9"), (0.99, "99"), (0.95, "95"), (0.9, "90")):
        if certainty >= bound:
            return f"over {words} % sure"
    return f"{100 * certainty:.0f} % sure"


def stated_text(resistor: Estimate, digits: int = 3) -> str:
    """Write a resistor by its stated value and tolerance, as the trade does.

    Parameters
    ----------
    resistor : Estimate
        Ohms; its doubt is that of a tolerance, a rectangular distribution.
    digits : int
        Of the value.

    Returns
    -------
    str
        Such as ``100 kΩ 1 %``.
    """
    tolerance = 100 * math.sqrt(3) * resistor.u / resistor.value
    return f"{with_prefix(resistor.value, 'Ω', digits)} {tolerance:.2g} %"


def lead_length(c: Estimate) -> str:
    """Write a capacitance as a length of lead of 100 pF/m; empty where it is not resolved.

    Parameters
    ----------
    c : Estimate
        Farads.

    Returns
    -------
    str
        Such as ``= 14 ± 1 cm lead``: whole centimetres.
    """
    half = c.half_width()
    if half > 0.7 * c.value:
        return ""
    cm, doubt = round_together(c.value / LEAD_FARAD_PER_CM, half / LEAD_FARAD_PER_CM, 1.0)
    return f"= {cm} ± {doubt} cm lead"


def number(numbers: dict[str, float | str], name: str) -> float:
    """Return a number of a reason; nan when it is missing or a word.

    Parameters
    ----------
    numbers : dict
        A reason's numbers and words.
    name : str
        Which of them.

    Returns
    -------
    float
        In the unit that its name ends in.
    """
    value = numbers.get(name)
    return float(value) if isinstance(value, int | float) else math.nan


def refused_runs(numbers: dict[str, float | str]) -> str:
    """Name the runs that a reason says were refused.

    Parameters
    ----------
    numbers : dict
        A reason's numbers and words; ``refused`` holds ids with a space between.

    Returns
    -------
    str
        Such as ``run 02 refused``; empty without any.
    """
    ids = str(numbers.get("refused", "")).split()
    if not ids:
        return ""
    return f"run{'s' if len(ids) > 1 else ''} {', '.join(ids)} refused"


def not_counted(numbers: dict[str, float | str]) -> str:
    """Say in brackets which refused runs a statement about every run leaves out.

    Parameters
    ----------
    numbers : dict
        See `refused_runs`.

    Returns
    -------
    str
        With a space before it; empty where none was refused.
    """
    runs = refused_runs(numbers)
    return f" ({runs}, not counted)" if runs else ""


def _signed(text: str) -> str:
    if float(text) == 0:
        return text.lstrip("-")
    return text if text.startswith("-") else f"+{text}"


def _down(value: float) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.floor(value / step + 1e-9) * step


def _up(value: float) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value / step - 1e-9) * step
