"""A pedal in bypass as a two-port with doubt: from a shunt, a series part, a buffer, a matrix."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128
from loopback.circuit.twoport import cascade, series_impedance, shunt_admittance
from loopback.identify.chain_found import ChainMatrix
from loopback.identify.found import BufferInput, Network, Shunt
from loopback.quantity import Estimate

GRID = 20.0 * 2.0 ** (np.arange(round(96 * math.log2(1000)) + 1) / 96)
"""20 Hz to 20 kHz, 96 points per octave."""
GRID.flags.writeable = False

USUAL_OUTPUT = Estimate(100.0, 100.0, "ohm")
"""Output resistance of a stage where none was measured (common practice)."""


@dataclass(frozen=True, slots=True)
class Device:
    """One pedal in bypass, on `GRID`.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    spreads : ndarray of complex128, shape (n, k, 2, 2)
        Change of it when one cause moves by its standard uncertainty.
    is_buffer : bool
        True when it separates what comes before from what comes after.
    """

    m: C128
    spreads: C128
    is_buffer: bool = False


def shunt_device(c_farad: Estimate, g_siemens: Estimate) -> Device:
    """Make a device of a resistor and a capacitor across the line.

    Parameters
    ----------
    c_farad, g_siemens : Estimate
        Taken as independent; a conductance below zero counts as none.

    Returns
    -------
    Device
        Passive.
    """
    s = 2j * math.pi * GRID

    def chain(values: Sequence[float]) -> C128:
        return shunt_admittance(np.asarray(values[1] + s * values[0]))

    return _device(chain, (c_farad, _not_below_zero(g_siemens)))


def network_device(network: Network) -> Device:
    """Make a device of a load that reaches the line through a capacitor.

    Parameters
    ----------
    network : Network
        As identified.

    Returns
    -------
    Device
        Passive.
    """
    s = 2j * math.pi * GRID

    def chain(values: Sequence[float]) -> C128:
        r_ohm, coupling, c_farad = values
        return shunt_admittance(np.asarray(1 / (r_ohm + 1 / (s * coupling)) + s * c_farad))

    return _device(chain, (network.r_ohm, network.coupling_farad, network.c_farad))


def series_device(r_ohm: Estimate) -> Device:
    """Make a device of a resistance from in to out.

    Parameters
    ----------
    r_ohm : Estimate
        Below zero counts as none.

    Returns
    -------
    Device
        Passive.
    """

    def chain(values: Sequence[float]) -> C128:
        return series_impedance(np.full(len(GRID), complex(values[0])))

    return _device(chain, (_not_below_zero(r_ohm),))


def buffer_device(stage: BufferInput, output_ohm: Estimate = USUAL_OUTPUT) -> Device:
    """Make a device of a buffer: input, gain, output.

    Parameters
    ----------
    stage : BufferInput
        As identified; a gain that was not measured is taken as 0 dB ± 0.3 (judgement).
    output_ohm : Estimate
        Output resistance; it hardly matters into an amplifier.

    Returns
    -------
    Device
        A buffer.
    """
    s = 2j * math.pi * GRID
    gain = stage.gain_db or Estimate(0.0, 0.3, "dB")

    def chain(values: Sequence[float]) -> C128:
        g, c, db, out = values
        k = 10.0 ** (db / 20)
        m = np.empty((len(GRID), 2, 2), dtype=np.complex128)
        m[:, 0, 0], m[:, 0, 1] = 1 / k, out / k
        m[:, 1, 0], m[:, 1, 1] = (g + s * c) / k, (g + s * c) * out / k
        return m

    values = (_not_below_zero(stage.g_siemens), stage.c_farad, gain, output_ohm)
    return _device(chain, values, is_buffer=True)


def matrix_device(matrix: ChainMatrix) -> Device:
    """Make a device of a measured chain matrix; beyond its ends the nearest value holds.

    Parameters
    ----------
    matrix : ChainMatrix
        As measured.

    Returns
    -------
    Device
        Its noise, independent from point to point, is left out: over a resonance it averages away.
    """
    place = np.interp(np.log(GRID), np.log(matrix.f_hz), np.arange(len(matrix.f_hz)))
    low = np.minimum(place.astype(int), len(matrix.f_hz) - 2)
    share = (place - low)[:, None, None]

    def on_grid(m: C128) -> C128:
        return np.asarray(m[low] * (1 - share) + m[low + 1] * share)

    is_buffer = matrix.witness is not None and matrix.witness.value.interval()[1] < 0.5
    return Device(on_grid(matrix.m), np.stack([on_grid(d) for d in matrix.spreads]), is_buffer)


def device_of(
    *,
    matrix: ChainMatrix | None,
    buffer: BufferInput | None,
    network: Network | None,
    shunt: Shunt | None,
    series_ohm: Estimate | None,
) -> Device | None:
    """Make a device of the most telling of what is known.

    Parameters
    ----------
    matrix, buffer, network, shunt, series_ohm : ChainMatrix, BufferInput, Network, Shunt, Estimate
        Each None where it is not known or does not describe this pedal; the first of them counts,
        a series resistance together with the shunt.

    Returns
    -------
    Device or None
        None when nothing is known.
    """
    if matrix is not None:
        return matrix_device(matrix)
    if buffer is not None:
        return buffer_device(buffer)
    if network is not None:
        return network_device(network)
    parts = []
    if shunt is not None:
        parts.append(shunt_device(shunt.c_farad, shunt.g_siemens))
    if series_ohm is not None:
        parts.append(series_device(series_ohm))
    return joined(parts) if parts else None


def joined(devices: Sequence[Device]) -> Device:
    """Put devices one after the other; their doubts are independent.

    Parameters
    ----------
    devices : sequence of Device
        One or more, in signal order.

    Returns
    -------
    Device
        The whole row.
    """
    matrices = [device.m for device in devices]
    spreads = [
        cascade(*matrices[:i], spread, *matrices[i + 1 :])
        for i, device in enumerate(devices)
        for spread in device.spreads
    ]
    shape = (0, *matrices[0].shape)
    return Device(
        cascade(*matrices),
        np.stack(spreads) if spreads else np.zeros(shape, dtype=np.complex128),
        any(device.is_buffer for device in devices),
    )


def exact_device(m: C128) -> Device:
    """Make a device without doubt, such as a lead.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix on `GRID`.

    Returns
    -------
    Device
        Passive.
    """
    return Device(m, np.zeros((0, *m.shape), dtype=np.complex128))


def _device(
    chain: Callable[[Sequence[float]], C128],
    estimates: Sequence[Estimate],
    *,
    is_buffer: bool = False,
) -> Device:
    values = [estimate.value for estimate in estimates]
    m = chain(values)
    spreads = []
    for i, estimate in enumerate(estimates):
        # A small step, scaled up: what is in doubt by more than itself must not change its sign.
        step = min(estimate.u, 0.01 * abs(estimate.value) or estimate.u)
        moved = [v + step if j == i else v for j, v in enumerate(values)]
        spreads.append((chain(moved) - m) * (estimate.u / step) if step else np.zeros_like(m))
    return Device(m, np.stack(spreads), is_buffer)


def _not_below_zero(estimate: Estimate) -> Estimate:
    return Estimate(max(estimate.value, 0.0), estimate.u, estimate.unit, estimate.dof)
