"""A line input that was taken for an instrument input is told, and takes no wiring for a buffer."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.identify.loads import find_setups
from loopback.verdict.judge import judge
from loopback.verdict.sentences_reasons import reason_sentence
from tests.reference.population_pedals import Truth, made_of
from tests.reference.population_table import KINDS, Setup, examine_pedal


@pytest.mark.parametrize(("load_ohm", "told"), [(10e3, True), (220e3, False), (1e6, False)])
def test_a_line_input_is_told(load_ohm: float, told: bool) -> None:
    """10 kilohm are no instrument input; 220 kilohm, as on some, are one."""
    rng = np.random.default_rng([9, 3])
    setup = Setup(KINDS["standard_check"], rng)
    setup.load_ohm = load_ohm
    lines = ["Cci IN 0 8p", "Cco OUT 0 8p", "Rsw IN OUT 0.05", "Rpd IN 0 100k"]
    pedal = made_of(Truth("pulldown", "loaded", 16e-12, 1e-5, 0.05), lines, rng)
    made = examine_pedal(pedal, setup)
    setups, priors = find_setups(made.references)
    result = judge(made.evidence, setups["instrument"], setups=setups, priors=priors)
    said = [r for r in result.reasons if r.code == "low_input"]
    assert bool(said) is told
    assert result.path == "loaded"
    if told:
        assert said[0].numbers["ohm"] == pytest.approx(load_ohm, rel=0.05)
        assert "9.99 kΩ" in reason_sentence(said[0])
