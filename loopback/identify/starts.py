"""Where the searches begin: the closed-form admittance of a resistor run, never a generic guess."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.hypotheses import Hypothesis
from loopback.identify.data import FitData
from loopback.identify.priors import Priors
from loopback.identify.setup import discrepancy_var, fit_band
from loopback.identify.shunt import start_values

_CORNERS_HZ = (5.0, 50.0, 500.0)
_TOP_RAD_S = 2 * math.pi * 10e3


@dataclass(frozen=True, slots=True)
class Seen:
    """What the runs show at first sight.

    Parameters
    ----------
    g_siemens, c_farad : float
        Closed-form shunt, coupler added; zero without a resistor run.
    y_low, y_top : complex
        Closed-form admittance near 100 Hz and near 10 kHz.
    gain_neper : float
        Level of a plain run; of a resistor run at 30 Hz without one.
    node_c_farad, node_g_siemens : float
        Of the setup.
    series : tuple of (float, float)
        Resistance in line and conductance behind it that the levels of both feeds give.
    output_ohm : float
        What a load plug takes the level down by, as the output resistance of a stage.
    in_line : tuple of (float, float)
        Without a plain run: the resistance in line and the conductance behind it that would make
        the resistor run without any capacitance; empty where none would.
    """

    g_siemens: float
    c_farad: float
    y_low: complex
    y_top: complex
    gain_neper: float
    node_c_farad: float
    node_g_siemens: float
    series: tuple[float, float]
    output_ohm: float = 300.0
    in_line: tuple[tuple[float, float], ...] = ()


def first_sight(data: FitData, priors: Priors) -> Seen:
    """Read the closed form off one run of each feed.

    Parameters
    ----------
    data : FitData
        The runs.
    priors : Priors
        For coupler and discrepancy.

    Returns
    -------
    Seen
        See there.
    """
    forward = [
        r for r in data.runs if r.label.direction == "forward" and r.label.load == "instrument"
    ] or list(data.runs)
    plain = next((r for r in forward if r.label.feed == "plain"), None)
    resistor = next((r for r in forward if r.label.feed == "resistor"), None)
    first = data.setups[forward[0].label.load]
    node_c, node_g = first.node_c.value, 1 / first.load_r.value
    gain = 0.0
    if plain is not None:
        gain = _level(plain.f_hz, plain.t, 200.0, 2000.0)
    if resistor is None:
        return Seen(0.0, 10e-12, 0j, 0j, gain, node_c, node_g, (100.0, 0.0))
    setup = data.setups[resistor.label.load]
    use = fit_band(resistor.f_hz)
    f_hz, t = resistor.f_hz[use], resistor.t[use]
    z = np.interp(f_hz, setup.f_hz, setup.z_node.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.z_node.imag
    )
    var = resistor.var[use] + np.abs(t) ** 2 * discrepancy_var(f_hz, priors)
    reach = max(0.3e-6, 3 * resistor.delay_u_s)
    g, c, tau = start_values(f_hz, t, z, var, reach)
    y = (np.exp(-2j * math.pi * f_hz * tau) / t - 1) / z
    y_low = _mean(f_hz, y, 60.0, 160.0)
    in_line: tuple[tuple[float, float], ...] = ()
    if plain is None:
        gain = _level(f_hz, t, 20.0, 60.0)
        in_line = _bare_in_line(f_hz, t, z, float(np.real(setup.zs_resistor[0])))
    series = (100.0, 0.0)
    if plain is not None:
        at_load = float(np.real(setup.y_load[np.searchsorted(setup.f_hz, 200.0)]))
        r_feed = float(np.real(setup.zs_resistor[0]))
        high = math.exp(-_level(f_hz, t, 100.0, 300.0)) * (1 + r_feed * at_load)
        low = math.exp(-_level(plain.f_hz, plain.t, 100.0, 300.0))
        behind = (high - low) / r_feed
        if behind > 0 and low > 1.0:
            series = ((low - 1) / behind, behind - at_load)
    return Seen(
        g, c + priors.coupler_farad, y_low, _mean(f_hz, y, 7e3, 14e3),
        gain, node_c, node_g, series, _output_ohm(data), in_line,
    )  # fmt: skip


def _bare_in_line(f_hz: F64, t: C128, z: C128, r_feed: float) -> tuple[tuple[float, float], ...]:
    """Resistance in line: ``(1 + Zs YL)/T - 1 = (Zs + r)(YL + g)`` is linear in two unknowns."""
    use = (f_hz > 60.0) & (f_hz < 3000.0)  # below what a free delay turns
    y = 1 / z[use] - 1 / r_feed
    wanted = (1 + r_feed * y) / t[use] - 1
    design = np.stack([y, np.ones_like(y)], axis=1) / np.abs(wanted)[:, None]
    stacked = np.concatenate([design.real, design.imag])
    target = wanted / np.abs(wanted)
    (a, b), *_ = np.linalg.lstsq(stacked, np.concatenate([target.real, target.imag]), rcond=None)
    return ((float(a) - r_feed, float(b / a)),) if a > 1.01 * r_feed else ()


def _output_ohm(data: FitData) -> float:
    found = {
        r.label.load: (r, data.setups[r.label.load])
        for r in data.runs
        if r.label.feed == "plain" and r.label.direction == "forward"
    }
    if "plug" not in found or "instrument" not in found:
        return 300.0
    run, setup = found["plug"]
    at = int(np.searchsorted(setup.f_hz, 1000.0))
    g, z = float(setup.y_load[at].real), float(setup.zs_plain[at].real)
    drop = _level(run.f_hz, run.t, 500.0, 2000.0) - _level(
        found["instrument"][0].f_hz, found["instrument"][0].t, 500.0, 2000.0
    )
    return max((math.exp(-drop) * (1 + z * g) - 1) / g, 1.0)


def starts_of(hypothesis: Hypothesis, seen: Seen) -> list[list[float]]:
    """List sets of start values for a hypothesis, in the order of its unknowns.

    Parameters
    ----------
    hypothesis : Hypothesis
        The circuit.
    seen : Seen
        What the runs show.

    Returns
    -------
    list of list of float
        One or more.
    """
    default = {u.name: u.start for u in hypothesis.unknowns}
    return [
        [{**default, **given}[u.name] for u in hypothesis.unknowns]
        for given in _given(hypothesis.name, seen)
    ]


def _given(name: str, seen: Seen) -> list[dict[str, float]]:
    g, c = seen.g_siemens, seen.c_farad
    across = 1 / max(g, seen.y_low.real, 1e-8)
    at_top = 1 / max(seen.y_top.real, 1e-7)
    if name in ("wire", "shunt"):
        # A heavy load turns the sign of a capacitance with a delay: two starts.
        level = {"c_farad": 15e-12, "g_siemens": max(seen.y_low.real, 0.0)}
        return [{"c_farad": c, "g_siemens": g}, *([level] if abs(seen.y_low) > 2e-5 else [])]
    if name in ("coupled", "shelf"):
        small = max(c, 5e-12)
        sets = _lossy(seen)
        for r in (across, at_top) if name == "shelf" else (across, at_top, 0.5 * across):
            sets += [
                {
                    "c_farad": min(small, 60e-12), "g_siemens": min(max(g, 0.0), 1e-7),
                    "r_branch_ohm": r, "c_branch_farad": 1 / (2 * math.pi * corner * r),
                }
                for corner in _CORNERS_HZ
            ]  # fmt: skip
        return sets
    if name == "inline":
        r, g_out = seen.series
        total = max(c, 20e-12)
        return [
            {"r_series_ohm": max(r, 1.0), "g_output_siemens": g_out, "c_output_farad": total / 2},
            # Behind a high resistance the treble is gone before any capacitance can be seen.
            {"r_series_ohm": max(r, 1.0), "g_output_siemens": g_out, "c_output_farad": 30e-12},
            {"r_series_ohm": 300.0, "g_output_siemens": g, "c_output_farad": total / 2},
            {"r_series_ohm": 1e3, "g_output_siemens": g, "c_output_farad": total},
            {"r_series_ohm": 10e3, "g_output_siemens": g, "c_output_farad": total},
            *(
                {"r_series_ohm": r, "g_output_siemens": g, "c_output_farad": 15e-12}
                for r, g in seen.in_line
            ),
        ]
    if name == "blocked":
        half = {"c_farad": c / 2, "c_output_farad": c / 2, "g_siemens": g / 2}
        return [
            {**half, "g_output_siemens": g / 2, "c_series_farad": big, "r_series_ohm": 100.0}
            for big in (1e-6, 3e-8)
        ]
    if name in ("buffer", "loaded_buffer"):
        c_in = max(seen.node_c_farad + c, 5e-12)
        r_in = 1 / max(seen.node_g_siemens + g, 2e-7)
        gain = max(min(seen.gain_neper, 0.1), -0.4)
        stage = {"c_input_farad": c_in, "r_input_ohm": min(r_in, 5e6), "gain_neper": gain}
        stage["r_output_ohm"] = seen.output_ohm
        sets = [
            {**stage, "corner_input_hz": low, "c_coupling_farad": out}
            for low, out in ((1.0, 1e-5), (10.0, 3e-6), (3.0, 1e-6))
        ]
        if name == "buffer":
            return sets
        halves = {"r_input_ohm": 2 * stage["r_input_ohm"], "r_branch_ohm": 2 * r_in}
        return [{**one, **halves, "corner_branch_hz": f} for one in sets for f in (3.0, 15.0)]
    if name == "transformer":
        return [{}, {"l_main_henry": 10.0}, {"l_leak_henry": 5e-3}]
    return [{}]


def _lossy(seen: Seen) -> list[dict[str, float]]:
    """Give a capacitance a resistor before it, with the corner at the end of the band or over.

    What conductance that makes in the treble is not told from a delay in closed form.
    """
    c = max(seen.y_top.imag / _TOP_RAD_S, 5e-12)
    return [
        {
            "c_farad": (1 - part) * c, "c_branch_farad": part * c,
            "g_siemens": min(max(seen.g_siemens, 0.0), 1e-5),
            "r_branch_ohm": 1 / (2 * math.pi * corner * part * c),
        }
        for part, corner in ((0.5, 80e3), (0.9, 80e3), (0.7, 250e3))
    ]  # fmt: skip


def _level(f_hz: F64, t: C128, low: float, high: float) -> float:
    use = (f_hz >= low) & (f_hz <= high)
    return float(np.mean(np.log(np.maximum(np.abs(t[use]), 1e-12))))


def _mean(f_hz: F64, y: C128, low: float, high: float) -> complex:
    use = (f_hz >= low) & (f_hz <= high)
    return complex(np.mean(y[use])) if use.any() else 0j
