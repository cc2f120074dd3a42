"""Levels in dBu and dBV, where a meter reading has tied full scale to volts."""

from __future__ import annotations

import math

from loopback.examination.records import Examination

DBV_OVER_DBU = 20 * math.log10(math.sqrt(0.6))
"""0 dBu is sqrt(0.6) V RMS (1 mW in 600 Ω), 0 dBV is 1 V RMS."""


def dbu_text(dbfs: float, full_scale_dbu: float | None) -> str:
    """Write a level in dBu and dBV.

    Parameters
    ----------
    dbfs : float
        Level; a full-scale sine is 0 dBFS.
    full_scale_dbu : float or None
        Level of a full-scale sine at the input; None: not known.

    Returns
    -------
    str
        ``"-89.4 dBu, -91.6 dBV"``; empty where it is not known.
    """
    if full_scale_dbu is None or not math.isfinite(dbfs):
        return ""
    dbu = dbfs + full_scale_dbu
    return f"{dbu:.1f} dBu, {dbu + DBV_OVER_DBU:.1f} dBV"


def levels_line(examination: Examination) -> str:
    """Say what levels mean in this examination.

    Parameters
    ----------
    examination : Examination
        The document.

    Returns
    -------
    str
        Volts, or that everything is relative to full scale.
    """
    full = examination.setup.full_scale_dbu
    if full is None:
        return (
            "Relative to full scale: no meter reading was taken (loopback setup --meter gives"
            " dBu and dBV)."
        )
    return (
        f"Full scale of the input is a sine of {dbu_text(0.0, full)}, as set or read from a meter; "
        "its own doubt comes on top of every ± in dBu and dBV."
    )
