"""Two examinations held against each other."""

from __future__ import annotations

from pathlib import Path

from loopback.comparing.comparison import Given, Pair, comparison_of
from loopback.comparing.setups import Assumed
from loopback.comparing.summarise import summary_of
from loopback.facts import Analysis


def compare(first: Analysis, second: Analysis, *, setups: Assumed = "look") -> Pair:
    """Take the differences of two examinations, with what they have in common taken off the doubt.

    Parameters
    ----------
    first, second : Analysis
        From `loopback.analyse`; a difference is the second less the first.
    setups : {"look", "one", "several"}
        Whether leads and resistor were the same; look: as noted in the examinations. Made with
        one setup, the doubt about its resistor is common to both and mostly cancels.

    Returns
    -------
    Pair
        Its `differences` hold each quantity of both, and the difference with its interval;
        `loopback.pair_sentences` writes them out.

    Examples
    --------
    >>> import tempfile
    >>> from loopback import analyse, simulate_examination
    >>> with tempfile.TemporaryDirectory() as place:
    ...     bell = simulate_examination(place + "/bell", "harbour-bell", plan="quick", sweep_s=1.0)
    ...     lamp = simulate_examination(place + "/lamp", "quarry-lamp", plan="quick", sweep_s=1.0)
    ...     pair = compare(analyse(bell), analyse(lamp))
    >>> (siemens,) = [d.difference for d in pair.differences if d.quantity == "g"]
    >>> low, high = siemens.interval(0.95)
    >>> low < 1e-6 < high  # the lamp's 1 MΩ
    True
    """
    given = [Given(Path(), summary_of(analysis)) for analysis in (first, second)]
    (pair,) = comparison_of(given, order="given", assumed=setups).pairs
    return pair
