"""Intervals and probabilities as the report writes them, by hand."""

from __future__ import annotations

import pytest

from loopback.quantity import Estimate
from loopback.report.page_numbers import (
    interval_text,
    probability_text,
    resistance_interval_text,
)


@pytest.mark.parametrize(
    ("value", "u", "unit", "text"),
    [
        # By hand with k = 1.96: 19.2 ± 0.69; 0.4 ± 5.1; -0.007 ± 0.0059; 1000 ± 9.8; 1.0 ± 0.2.
        (19.2e-12, 0.35e-12, "F", "18.5 to 19.9 pF"),
        (0.4, 2.6, "Ω", "-5 to 5 Ω"),
        (-0.007, 0.003, "dB", "-0.013 to -0.001 dB"),
        (1.0e6, 5e3, "Ω", "0.99 to 1.01 MΩ"),
        (1.0, 0.1, "", "0.80 to 1.20"),
        (0.0, 0.0, "dB", "0 to 0 dB"),
        (-0.0065, 0.00333, "dB", "-0.013 to 0.000 dB"),
    ],
)
def test_both_ends_in_one_prefix(value: float, u: float, unit: str, text: str) -> None:
    """As many places as the width of the interval carries; no negative zero."""
    assert interval_text(Estimate(value, u, "x"), unit) == text


def test_conductance_is_written_as_resistance() -> None:
    """1.00 µS ± 0.0098: 0.99 to 1.01 MΩ; one that may be zero is a one-sided bound, or none."""
    assert resistance_interval_text(Estimate(1e-6, 5e-9, "siemens")) == "0.99 to 1.01 MΩ"
    assert resistance_interval_text(Estimate(1e-9, 3e-9, "siemens")) == "over 160 MΩ"
    assert resistance_interval_text(Estimate(-1e-8, 3e-9, "siemens")) == "not limited"


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (None, ""), (float("nan"), ""), (0.62, "62 %"), (0.9751, "97.5 %"), (0.031, "3.1 %"),
        (1.0, "over 99.9 %"), (0.0, "under 0.1 %"),
    ],
)  # fmt: skip
def test_no_probability_is_certain(probability: float | None, text: str) -> None:
    """Never 0 % nor 100 %."""
    assert probability_text(probability) == text
