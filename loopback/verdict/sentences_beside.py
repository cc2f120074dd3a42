"""Evidence beside level and response: loud and soft, noise, tones, presses, taps."""

from __future__ import annotations

import math
from collections.abc import Callable

from loopback.quantity import round_together, with_prefix
from loopback.verdict.codes import ReasonCode
from loopback.verdict.wording import decibel, number

Numbers = dict[str, float | str]
_ORDINALS = {2: "second", 3: "third", 4: "fourth", 5: "fifth"}


def _whole(n: Numbers, key: str) -> int:
    value = number(n, key)
    return 0 if math.isnan(value) else round(value)


def _level_dependent(n: Numbers) -> str:
    value, half = round_together(number(n, "db"), number(n, "u_db"))
    return (
        f"A tone 20 dB louder comes out {value} dB ± {half} off those 20 dB: wire, resistors and "
        "capacitors pass loud and soft alike."
    )


def _raised(n: Numbers) -> str:
    order = _ORDINALS.get(_whole(n, "order"), "strongest")
    return (
        f"Its {order} harmonic stands {number(n, 'db'):.0f} dB above the setup's own: silicon on "
        "the line makes harmonics, and so does a joint that rectifies."
    )


def _tones(n: Numbers) -> str:
    count = _whole(n, "count")
    more = f", the loudest of {count}" if count > 1 else ""
    when = " It is gone without power." if n.get("powered") and count == 1 else ""
    when = " They are gone without power." if n.get("powered") and count > 1 else when
    return (
        f"In bypass it adds a tone of {with_prefix(number(n, 'hz'), 'Hz', 4)} at "
        f"{number(n, 'dbfs'):.1f} dBFS{more}.{when}"
    )


def _noise(n: Numbers) -> str:
    value, half = round_together(number(n, "db"), number(n, "u_db"))
    return f"In bypass with power its noise is {value} dB ± {half} above the cable's (A-weighted)."


def _pops(n: Numbers) -> str:
    pops, presses = _whole(n, "pops"), _whole(n, "presses")
    if not pops:
        return f"None of {presses} presses of the footswitch pops above the noise."
    return f"{pops} of {presses} presses of the footswitch pop."


def _tapped(n: Numbers) -> str:
    events, crackles = _whole(n, "events"), _whole(n, "crackles")
    if not events and not crackles:
        return "Tapped and bent, nothing moved."
    drops = _whole(n, "drops")
    parts = []
    if drops:
        parts.append(f"dropped out {_times(drops)}")
    if events > drops:
        parts.append(f"changed {_times(events - drops)} without dropping out")
    if crackles:
        parts.append(f"crackled {_times(crackles)} without a change of level")
    return f"Tapped and bent, the line {', '.join(parts)}."


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


BESIDE: dict[ReasonCode, Callable[[Numbers], str]] = {
    "level_dependent": _level_dependent,
    "harmonics_raised": _raised,
    "bends_unpowered": lambda n: (
        "Without power loud and soft do not pass alike"
        + (f" ({decibel(number(n, 'db'), 2)})" if "u_db" in n else "")
        + ": silicon hangs on the line, and is quiet only while it has its supply."
    ),
    "adds_noise": _noise,
    "adds_tones": _tones,
    "pops": _pops,
    "muted_while_switching": lambda n: (
        f"While it switches it is silent for {number(n, 'ms'):.0f} ms: contacts alone take a few, "
        "so something mutes."
    ),
    "tapped": _tapped,
    "supply_left_in": lambda n: (
        f"The pedal takes {-number(n, 'pf'):.0f} pF off the line with power and without: a powered "
        "stage whose supply or battery was left in does that, and so do reference and pedal runs "
        "exchanged."
    ),
}
