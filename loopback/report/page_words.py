"""What every report says, whatever was measured."""

from __future__ import annotations

from loopback.examination.records import Examination
from loopback.verdict.wording import hertz

SCOPE = (
    "These results relate only to the unit described here, as it was on that day, in this setup. "
    "Another unit of the same kind may differ."
)
STANDING = (
    "This is a measurement report, not a certificate, and not the report of an accredited "
    "laboratory. Its contents follow the list of ISO/IEC 17025:2017, clause 7.8; laboratory, "
    "customer and the person who authorises it are not stated, since this program does not know "
    "them. Reproduce it as a whole."
)
UNCERTAINTY = (
    "What stands after ± is the expanded uncertainty: the half-width of the interval that covers "
    "95 % (JCGM 100:2008; coverage factor from Student's t, 1.96 with many degrees of freedom). "
    "It holds noise, repeats, drift of the gain, plugging, and the tolerance of the resistor, "
    "as far as these are known or assumed. Where a value is not told from zero or is known by one "
    'digit only, "under" and "over" give the bound that holds with 95 % on one side; "same '
    'within" gives the largest difference in the interval that covers 95 %.'
)
CAUTIONS = (
    (
        "Hearing",
        "Turn the amplifier down before a pedal is switched, plugged or powered. Pops and "
        "test tones can be loud enough to hurt.",
    ),
    ("Loudspeakers", "Unplug loudspeakers and headphones while the test signal plays."),
    (
        "Loudspeaker outputs",
        "Never connect an amplifier's loudspeaker output to a pedal or to the interface.",
    ),
    ("Phantom power", "Keep it off. 48 V at a jack harms pedals and falsifies what is measured."),
    (
        "Mains",
        "Nothing here needs mains wiring to be opened. Leave mains-operated parts to people "
        "licensed for them, under the electrical code of the place.",
    ),
    (
        "Safety",
        "This report says nothing about electrical safety. Local codes and licensed practice "
        "come before anything written here.",
    ),
)


def method(examination: Examination) -> tuple[str, ...]:
    """Say how it was measured.

    Parameters
    ----------
    examination : Examination
        The document.

    Returns
    -------
    tuple of str
        Paragraphs.
    """
    signal = examination.signal
    low, high = hertz(signal.f1_hz), hertz(signal.f2_hz)
    return (
        f"In each take the interface plays a synchronised exponential sweep from {low} to {high} "
        f"in {signal.sweep_s:.1f} s, upwards and downwards, with check tones around it, at "
        f"{signal.level_dbfs:g} dBFS and {hertz(signal.rate_hz)}. What comes back "
        "through the pedal is compared with the same leads joined by a coupler (the cable), never "
        "with an ideal.",
        "A resistor in front of the pedal makes what lies across the line change level and phase; "
        "the plain lead shows what lies in line. The values come from one fit of circuits to all "
        "runs. Which position of the footswitch is bypass is found from the runs.",
    )
