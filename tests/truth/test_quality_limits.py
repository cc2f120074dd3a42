"""The table of limits: grades, order, sources."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.quality import limits
from loopback.quality.finding import Finding, refused
from loopback.quality.limits import Limit, snr_grade


def test_a_limit_grades_by_size() -> None:
    """Below the first bound good, below the second look, from there on refuse; sign is nothing."""
    limit = Limit(0.01, 0.05, "dB")
    assert [limit.grade(v) for v in (0.0, -0.0099, 0.01, -0.049, 0.05, 3.0)] == [
        "good", "good", "look", "look", "refuse", "refuse",
    ]  # fmt: skip
    assert limit.grade(math.nan) == "refuse"


def test_every_limit_rises_and_names_its_source() -> None:
    """No limit has its bounds the wrong way round or stands without a source."""
    every = [value for value in vars(limits).values() if isinstance(value, Limit)]
    assert len(every) >= 10
    assert all(0 < limit.good < limit.look for limit in every)
    assert all(limit.source for limit in every)


def test_flat_top_share_of_a_sine_is_the_closed_form() -> None:
    """2/π acos 0.98 of a sine lies within 2 % of its peak, and the limit lies above it."""
    share = 2 / math.pi * math.acos(0.98)
    assert share == pytest.approx(0.1275, abs=1e-4)
    assert share < limits.FLAT_TOP_SHARE.good


def test_signal_to_noise_grades_downwards() -> None:
    """More is better, and what is not known is refused."""
    assert [snr_grade(v) for v in (80.0, 60.0, 59.0, 40.0, 39.0, np.nan)] == [
        "good", "good", "look", "look", "refuse", "refuse",
    ]  # fmt: skip


def test_refusal_reaches_what_it_names_and_no_more() -> None:
    """A run refuses its takes, a take only itself, and a look nothing."""
    of_run = Finding("gain_moved", "refuse", "", "", "", "02 03")
    of_take = Finding("clipped", "refuse", "", "", "", "04/1")
    look = Finding("hum", "look", "", "", "", "05")
    found = [of_run, of_take, look]
    assert refused(found, "02")
    assert refused(found, "03", 2)
    assert refused(found, "04", 1)
    assert not refused(found, "04", 2)
    assert not refused(found, "04")
    assert not refused(found, "05")
    assert not refused(found, "0")
