"""Days as people write them, the same in every language setting."""

from __future__ import annotations

from datetime import datetime

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def date_text(iso: str) -> str:
    """Write the day of an ISO 8601 time as ``25 Nov 2026``.

    Parameters
    ----------
    iso : str
        As in the document; anything else is given back unchanged.

    Returns
    -------
    str
        Day, month in three letters, year.
    """
    try:
        day = datetime.fromisoformat(iso)
    except ValueError:
        return iso
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
