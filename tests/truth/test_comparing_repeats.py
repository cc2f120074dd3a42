"""Reproducibility: against closed forms, a textbook calculation, and coverage over seeds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.comparing.repeats import precision


def test_one_value_each_is_the_plain_standard_deviation() -> None:
    """Of single values within and between cannot be told apart; n - 1 degrees of freedom remain."""
    values = [12.1, 12.9, 12.4, 13.0]
    found = precision([[v] for v in values], [0.4] * 4, "farad")
    assert found is not None
    assert found.within is None
    assert found.between is None
    assert found.all_together == pytest.approx(float(np.std(values, ddof=1)))
    assert found.dof == 3
    assert found.mean.value == pytest.approx(12.6)
    assert found.mean.u == pytest.approx(found.all_together / 2)


def test_interval_of_a_standard_deviation() -> None:
    """With 4 values the true deviation is 0.566 to 3.729 times what was found (chi-square tables:
    9.348 and 0.2158 for 3 degrees of freedom)."""
    found = precision([[-1.0], [1.0], [-1.0], [1.0]], [0.0] * 4, "dB")
    assert found is not None
    s = found.all_together
    assert found.low95 / s == pytest.approx(math.sqrt(3 / 9.348), rel=1e-3)
    assert found.high95 / s == pytest.approx(math.sqrt(3 / 0.2158), rel=1e-3)


def test_balanced_groups_as_by_hand() -> None:
    """Three groups of two: mean squares 2 within and 14 between are variances of 2 and 6.

    ISO 5725-2:2019 (from memory): the variance between is the difference of the mean squares over
    the number of replicates; mean squares computed by hand.
    """
    found = precision([[1.0, 3.0], [5.0, 7.0], [6.0, 8.0]], [0.1] * 3, "dB")
    assert found is not None
    assert found.mean.value == pytest.approx(5.0)
    assert found.within == pytest.approx(math.sqrt(2))
    assert found.between == pytest.approx(math.sqrt(6))
    assert found.all_together == pytest.approx(math.sqrt(8))
    assert found.dof == pytest.approx(8**2 / (7**2 / 2 + 1**2 / 3))


def test_no_scatter_between_is_never_negative() -> None:
    """Where groups agree better than single values the scatter between them is zero."""
    found = precision([[0.0, 2.0], [2.0, 0.0], [0.1, 1.9]], [0.1] * 3, "dB")
    assert found is not None
    assert found.between == 0.0
    assert found.dof == 3


def test_fewer_than_two_say_nothing() -> None:
    """One examination has no scatter."""
    assert precision([[1.0, 2.0]], [0.1], "dB") is None


@pytest.mark.parametrize(("replicates", "between"), [(1, 0.3), (2, 0.3), (3, 0.0), (2, 2.0)])
def test_interval_covers_the_true_deviation(replicates: int, between: float) -> None:
    """Of 400 drawn sets of five examinations, 90 to 99 % of the intervals hold the truth."""
    rng = np.random.default_rng(20)
    truth = math.hypot(between, 0.5)
    held = 0
    for _ in range(400):
        groups = [
            (offset + rng.normal(0, 0.5, replicates)).tolist()
            for offset in rng.normal(0, between, 5)
        ]
        found = precision(groups, [0.5] * 5, "dB")
        assert found is not None
        held += found.low95 <= truth <= found.high95
    assert 0.90 <= held / 400 <= 0.99


def test_stated_doubts_explain_what_they_caused() -> None:
    """Scatter of the stated size is explained, three times as much over ten examinations is not."""
    rng = np.random.default_rng(4)
    values = rng.normal(0.0, 0.4, 10)
    alike = precision([[float(v)] for v in values], [0.4] * 10, "dB")
    wild = precision([[float(3 * v)] for v in values], [0.4] * 10, "dB")
    assert alike is not None
    assert wild is not None
    assert alike.explained
    assert not wild.explained
