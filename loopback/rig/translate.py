"""The audio library's error codes in the user's words: what it means and the one thing to do."""

from __future__ import annotations

from loopback.errors import RigError

_BUSY = (
    "Another program or the system itself is holding the interface.",
    "Close other audio programs and browser tabs with sound, then start again.",
)
_GONE = (
    "The interface was unplugged or switched off, or its driver stopped.",
    "Plug it in, wait a few seconds and start again.",
)
_LAYOUT = (
    "The interface has fewer sockets than were asked for, or its driver pairs them otherwise.",
    "Choose other sockets with --in and --out.",
)
_OURS = (
    "This is a fault in this program, not in the setup.",
    "Start again; if it comes back, report it with this line.",
)
_DRIVER = (
    "The driver of the interface did not do what it offers.",
    "Unplug the interface, plug it in again and start again.",
)
_RATE = (
    "The interface does not run at this sample rate as it is set now.",
    "Choose another with --rate, or set this rate in the interface's own panel.",
)
_OLD = (
    "The audio library of this system knows no such driver.",
    "Choose another entry; --all lists them.",
)

MEANINGS: dict[int, tuple[str, str]] = {
    -10000: _OURS,  # not initialised
    -9999: _DRIVER,  # host error, see `host_error`
    -9998: _LAYOUT,  # channel count
    -9997: _RATE,
    -9996: _GONE,  # invalid device
    -9995: _OURS,  # invalid flag
    -9994: (
        "The driver takes no sample format that this program can use without loss.",
        "Choose another driver of the same interface; --all lists them.",
    ),
    -9993: (
        "Input and output of this choice cannot run together.",
        "Use input and output of one and the same interface.",
    ),
    -9992: ("The computer has no memory left for sound.", "Close other programs and start again."),
    -9991: _DRIVER,  # buffer too big
    -9990: _DRIVER,  # buffer too small
    -9989: _OURS,  # no callback
    -9988: _OURS,  # bad stream
    -9987: _GONE,  # timed out
    -9986: _DRIVER,  # internal error
    -9985: _BUSY,  # device unavailable
    -9984: _OURS,  # host-specific settings for another host
    -9983: _OURS,  # stream is stopped
    -9982: _OURS,  # stream is running
    -9981: (
        "The computer was too slow and lost samples.",
        "Close other programs; on a laptop plug in the charger.",
    ),
    -9980: (
        "The computer was too slow and left a gap in the sound.",
        "Close other programs; on a laptop plug in the charger.",
    ),
    -9979: _OLD,  # host not found
    -9978: _OLD,  # invalid host
    -9977: _OURS,  # reading from a callback stream
    -9976: _OURS,  # writing to a callback stream
    -9975: _OURS,  # reading from an output
    -9974: _OURS,  # writing to an input
    -9973: _OURS,  # wrong host for this call
    -9972: _OURS,  # bad buffer
}
"""Meaning and action for every code of PortAudio's `PaErrorCode` (portaudio.h, version 19)."""

_HOST_CODES: tuple[tuple[tuple[str, ...], tuple[str, str]], ...] = (
    (("busy", "0x8889000a", "-2004287478", "in use", "errno 16"), _BUSY),
    (
        ("0x8889000e", "-2004287474", "exclusive"),
        (
            "The system does not allow exclusive access to this interface.",
            "Allow exclusive mode in the device's sound settings, then start again.",
        ),
    ),
    (
        ("access denied", "permission", "0x80070005", "-2147024891", "errno 13", "not permitted"),
        (
            "The system does not let this program use the interface.",
            "Allow the microphone for this terminal in the system's privacy settings"
            " (on Linux: be in the group audio).",
        ),
    ),
    (("no such device", "disconnect", "0x88890004", "-2004287484", "removed", "errno 19"), _GONE),
    (("sample rate", "0x88890008", "-2004287480", "format"), _RATE),
)
"""Words and numbers in a host's own message; WASAPI codes as in audioclient.h."""


def translate(code: int | None, text: str, doing: str) -> RigError:
    """Turn an error of the audio library into one that says what to do.

    Parameters
    ----------
    code : int or None
        PortAudio's number; None when the library gave none.
    text : str
        Its own words, with the host's message where there is one.
    doing : str
        What was tried, such as ``"opening Kestrel Two at 96000 Hz"``.

    Returns
    -------
    RigError
        To be raised by the caller.
    """
    means, action = MEANINGS.get(-9999 if code is None else code, _DRIVER)
    if code in (None, -9999, -9986):
        folded = text.casefold()
        for words, meaning in _HOST_CODES:
            if any(word in folded for word in words):
                means, action = meaning
                break
    number = "" if code is None else f", number {code}"
    return RigError(f'{doing} failed: "{text.strip()}"{number}.', means, action)


def nothing_but_zeros(box: str) -> RigError:
    """Make the error for a recording in which every sample of every input is exactly zero.

    A converter always shows its noise, so such silence was made by the system.

    Parameters
    ----------
    box : str
        Name of the interface.

    Returns
    -------
    RigError
        To be raised by the caller.
    """
    return RigError(
        f"Every sample that came from {box} is exactly zero.",
        "A real input is never that quiet: the system does not let this terminal record, or the"
        " input is muted in its panel.",
        "Allow the microphone for this terminal (macOS: System Settings, Privacy and Security,"
        " Microphone; Windows: Settings, Privacy, Microphone, desktop apps) and start again.",
    )
