"""What all JSON facts are made of."""

from __future__ import annotations

import msgspec


class FactRecord(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Base: frozen, and unknown fields are refused."""


class Number(FactRecord, frozen=True):
    """A value in the unit that the field's name ends in, with its doubt.

    Attributes
    ----------
    value : float or None
        Best estimate; None: not finite, nothing is known.
    u : float or None
        Standard uncertainty.
    low95, high95 : float or None
        Interval that covers 95 %.
    """

    value: float | None
    u: float | None
    low95: float | None
    high95: float | None
