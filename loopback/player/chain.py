"""Several pedals with leads between them, from the guitar to the amplifier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loopback.player.change import Change, change_of
from loopback.player.device import GRID, Device, exact_device, joined
from loopback.player.pickup import PICKUPS, Amplifier, Pickup, lead_chain


@dataclass(frozen=True, slots=True)
class Leads:
    """Lengths of the leads.

    Parameters
    ----------
    guitar_m, patch_m, amplifier_m : float
        From the guitar to the first pedal, from pedal to pedal, from the last to the amplifier.
    """

    guitar_m: float = 3.0
    patch_m: float = 0.3
    amplifier_m: float = 0.0


@dataclass(frozen=True, slots=True)
class ChainFound:
    """What a row of pedals in bypass does.

    Parameters
    ----------
    changes : tuple of Change
        One for each pickup.
    first_buffer : int or None
        Number of the first buffered pedal, from 1; None: there is none.
    lead_before_m : float
        Leads that hang on the pickup: up to the first buffer, or all.
    lead_all_m : float
        All leads.
    """

    changes: tuple[Change, ...]
    first_buffer: int | None
    lead_before_m: float
    lead_all_m: float


def find_chain(
    devices: Sequence[Device],
    leads: Leads | None = None,
    amplifier: Amplifier | None = None,
    pickups: Sequence[Pickup] = PICKUPS,
) -> ChainFound:
    """Compose pedals and leads, and compare with the same leads without pedals.

    Parameters
    ----------
    devices : sequence of Device
        One or more, in signal order.
    leads : Leads or None
        Lengths; None: the defaults.
    amplifier : Amplifier or None
        The load; None: the default.
    pickups : sequence of Pickup
        Sources.

    Returns
    -------
    ChainFound
        A change for each pickup.
    """
    leads, amplifier = leads or Leads(), amplifier or Amplifier()
    lengths = [leads.guitar_m, *[leads.patch_m] * (len(devices) - 1), leads.amplifier_m]
    row = [exact_device(lead_chain(lengths[0], GRID))]
    for device, length in zip(devices, lengths[1:], strict=True):
        row += [device, exact_device(lead_chain(length, GRID))]
    whole = joined(row)
    without = lead_chain(sum(lengths), GRID)
    first = next((n for n, device in enumerate(devices, start=1) if device.is_buffer), None)
    return ChainFound(
        tuple(change_of(pickup, amplifier, without, whole) for pickup in pickups),
        first,
        sum(lengths[:first]) if first is not None else sum(lengths),
        sum(lengths),
    )
