"""Numbers with doubt: value, standard uncertainty, unit; and how people write and read them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from loopback.errors import ArgumentError

_PREFIXES = {
    "p": 1e-12,
    "n": 1e-9,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "m": 1e-3,
    "": 1.0,
    "k": 1e3,
    "K": 1e3,
    "M": 1e6,
    "meg": 1e6,
    "G": 1e9,
}
_NUMBER = re.compile(
    r"(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*"
    r"(?P<prefix>meg|[pnuµμmkKMG]?)\s*(?P<unit>[A-Za-zΩ%]*)"
)
_STEPS = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"))


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty.

    Parameters
    ----------
    value : float
        Best estimate, in `unit`.
    u : float
        Standard uncertainty (one standard deviation), in `unit`; never negative.
    unit : str
        ``"ohm"``, ``"farad"``, ``"siemens"``, ``"dB"``, ``"s"``, ``"Hz"`` or ``""``.
    dof : float
        Degrees of freedom behind `u`; ``inf`` when it comes from stated priors.
    common : tuple of (str, float)
        Parts of `u` with a cause that other values may share, such as one resistor lead: name of
        the cause, and how far one standard deviation of it moves the value, with sign. Two values
        of the same cause have the product of both as their covariance (JCGM 100:2008, F.1.2.3).
    """

    value: float
    u: float
    unit: str
    dof: float = math.inf
    common: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        if not self.u >= 0:
            raise ArgumentError(f"An uncertainty of {self.u!r} was given; it cannot be negative.")

    def half_width(self, coverage: float = 0.95) -> float:
        """Half-width of the symmetric interval of that coverage (JCGM 100:2008, G.3).

        Parameters
        ----------
        coverage : float
            Probability between 0 and 1.

        Returns
        -------
        float
            In `unit`.
        """
        return self.u * coverage_factor(coverage, self.dof)

    def interval(self, coverage: float = 0.95) -> tuple[float, float]:
        """Lower and upper end of the symmetric interval of that coverage."""
        half = self.half_width(coverage)
        return self.value - half, self.value + half

    def inverse(self, unit: str) -> Estimate:
        """One over it, by first-order propagation; when not to use: where `u` is not small.

        Parameters
        ----------
        unit : str
            Of the inverse.

        Returns
        -------
        Estimate
            With the same common causes.
        """
        slope = -1 / self.value**2
        common = tuple((cause, slope * moved) for cause, moved in self.common)
        return Estimate(1 / self.value, self.u / self.value**2, unit, self.dof, common)


def coverage_factor(coverage: float = 0.95, dof: float = math.inf) -> float:
    """Coverage factor k of Student's t for a two-sided interval (JCGM 100:2008, table G.2).

    Parameters
    ----------
    coverage : float
        Probability between 0 and 1, exclusive.
    dof : float
        Degrees of freedom; ``inf`` gives the normal distribution.

    Returns
    -------
    float
        Dimensionless.

    Raises
    ------
    ArgumentError
        If `coverage` is not between 0 and 1 or `dof` is not positive.
    """
    if not 0.0 < coverage < 1.0:
        raise ArgumentError(f"A coverage of {coverage!r} was given; it lies between 0 and 1.")
    if not dof > 0:
        raise ArgumentError(f"Degrees of freedom of {dof!r} were given; they must be positive.")
    if coverage == 0.95 and math.isinf(dof):  # the common case, without loading scipy
        return 1.959963984540054
    from scipy import special

    p = 0.5 + coverage / 2
    return float(special.ndtri(p) if math.isinf(dof) else special.stdtrit(dof, p))


def parse_value(text: str, unit: str = "") -> float:
    """Read a value the way people write it: ``100k``, ``0.1M``, ``22p``, ``96k``, ``1%``.

    ``M`` is mega and ``m`` is milli; a per cent sign divides by 100.

    Parameters
    ----------
    text : str
        What was typed.
    unit : str
        What the value is, for the message only (``"ohm"``, ``"Hz"``).

    Returns
    -------
    float
        In base units.

    Raises
    ------
    ArgumentError
        If the text is not a number, or uses a decimal comma.
    """
    shown = text.strip()
    what = f" for a value in {unit}" if unit else ""
    if re.search(r"\d,\d", shown):
        raise ArgumentError(
            f'"{shown}" has a comma{what}.',
            "It could mean a decimal or a thousands sign.",
            f'Write a point: "{shown.replace(",", ".")}".',
        )
    match = _NUMBER.fullmatch(shown)
    if match is None:
        raise ArgumentError(
            f'"{shown}" is not a number{what}.', "", "Write it like 100k, 0.1M, 22p or 1%."
        )
    factor = _PREFIXES[match["prefix"]]
    if match["unit"] == "%":
        factor /= 100
    return float(match["number"]) * factor


def round_together(value: float, u: float, finest: float = 0.0) -> tuple[str, str]:
    """Round value and uncertainty to the same place: two digits of `u` below 0.30, else one.

    Parameters
    ----------
    value, u : float
        In the same unit; `u` is what will be printed after ±.
    finest : float
        A power of ten, 1 or less: nothing is written finer, and `u` is then rounded up to a
        multiple of it (JCGM 100:2008, 7.2.6). 0: as fine as `u` says.

    Returns
    -------
    tuple of str
        Both as plain decimals with the same number of places.
    """
    u = max(u, finest)
    if not (math.isfinite(value) and math.isfinite(u)) or u <= 0:
        return f"{value:g}", f"{u:g}"
    exponent = math.floor(math.log10(u))
    leading = u / 10.0**exponent
    digits = 2 if leading < 2.95 else 1
    places = digits - 1 - exponent
    if round(u, places) >= 10.0 ** (exponent + 1) and digits == 1:
        places -= 1
    if finest and places > (most := round(-math.log10(finest))):
        return _fixed(value, most), f"{math.ceil(u / finest - 1e-9) * finest:.{most}f}"
    if places < 0:
        return _fixed(round(value, places), 0), f"{round(u, places):.0f}"
    return _fixed(value, places), f"{u:.{places}f}"


def _fixed(value: float, places: int) -> str:
    """Plain decimal; never a negative zero."""
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0 else text


def with_prefix(value: float, unit: str, digits: int = 3) -> str:
    """Write a bare value with the fitting prefix: ``1.00 MΩ``, ``19.2 pF``.

    Parameters
    ----------
    value : float
        In base units.
    unit : str
        Printed after the prefix, such as ``"Ω"``.
    digits : int
        Significant digits.

    Returns
    -------
    str
        Number, space, prefix and unit.
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g} {unit}"
    size = abs(value)
    scale, prefix = next(((s, p) for s, p in _STEPS if size >= s * 0.9995), (1e-12, "p"))
    scaled = value / scale
    places = max(0, digits - 1 - math.floor(math.log10(abs(scaled)) + 1e-12))
    return f"{scaled:.{places}f} {prefix}{unit}"


def estimate_text(estimate: Estimate, unit: str, coverage: float = 0.95) -> str:
    """Write an estimate with its interval in one prefix: ``19.2 pF ± 0.7``.

    Parameters
    ----------
    estimate : Estimate
        In base units.
    unit : str
        Printed unit, such as ``"F"`` or ``"Ω"``; the prefix is chosen from the value.
    coverage : float
        Coverage of what stands after ±.

    Returns
    -------
    str
        Value, unit, ± half-width.
    """
    half = estimate.half_width(coverage)
    size = max(abs(estimate.value), half)
    scale, prefix = next(((s, p) for s, p in _STEPS if size >= s * 0.9995), (1e-12, "p"))
    if unit == "dB" or size == 0:
        scale, prefix = 1.0, ""
    value, spread = round_together(estimate.value / scale, half / scale)
    return f"{value} {prefix}{unit} ± {spread}"
