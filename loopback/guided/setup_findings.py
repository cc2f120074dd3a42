"""Findings that only setting up can make: names, unplugged, arrival, level, leads, check cable."""

from __future__ import annotations

import re

from loopback.guided.hearing import Heard
from loopback.quality.finding import Finding

TOO_LITTLE_DBFS = -40.0
"""Peak below which a working level is called too little. Judgement."""
LARGE_NODE_F = 600e-12
"""A return lead of 3 m with an input makes 400 pF; the feeding lead on top makes 700 pF."""
LEAK_DB = -70.0
"""More than this across an unplugged box would hide a path that is dead. Judgement."""

_WIRELESS = re.compile(
    r"bluetooth|hands.?free|air ?pods|head ?set|ear ?buds|wireless|a2dp|\bhfp\b", re.IGNORECASE
)
_BUILT_IN = re.compile(
    r"built.?in|internal|hda |hd.?audio|realtek|\bpch\b|hdmi|display ?port|macbook|microphone",
    re.IGNORECASE,
)


def judge_name(name: str) -> Finding | None:
    """Look at the name of an interface.

    Parameters
    ----------
    name : str
        As the system gives it.

    Returns
    -------
    Finding or None
        Codes ``wireless`` (refuse) and ``built_in`` (look).
    """
    if _WIRELESS.search(name):
        return Finding(
            "wireless",
            "refuse",
            f'"{name}"',
            "Wireless audio is compressed, late and narrow: nothing here can be measured with it.",
            "Choose an interface with a cable.",
        )
    if _BUILT_IN.search(name):
        return Finding(
            "built_in",
            "look",
            f'"{name}"',
            "Built-in sound has no instrument input: it loads the line and is noisy.",
            "Use an interface with an instrument input (INST, Hi-Z).",
        )
    return None


def judge_unplugged(heard: Heard) -> Finding | None:
    """Look for a signal that arrives although nothing is plugged in.

    Parameters
    ----------
    heard : Heard
        With nothing plugged in.

    Returns
    -------
    Finding or None
        Codes ``heard_unplugged`` (refuse), ``leak`` (look).
    """
    if heard.gain_db is not None:
        return Finding(
            "heard_unplugged",
            "refuse",
            f"the signal arrives at {heard.gain_db:+.1f} dB with nothing plugged in",
            "This input returns the computer's own sound inside the box, or a lead is still in.",
            "Pull both leads; else choose the analogue input with --in, and turn loopback off.",
        )
    if heard.leak_db is not None and heard.leak_db > LEAK_DB:
        return Finding(
            "leak",
            "look",
            f"output leaks into input at {heard.leak_db:.0f} dB",
            "A pedal that is silent will not look more silent than this.",
            "Keep leads apart, and take headphones off this box.",
        )
    return None


def judge_arrival(heard: Heard, output: int, socket: int) -> Finding | None:
    """Say where the signal is, when it is not where it should be.

    Parameters
    ----------
    heard : Heard
        With the coupler.
    output, socket : int
        Sockets of the path.

    Returns
    -------
    Finding or None
        Codes ``wrong_channel``, ``nothing_arrives``.
    """
    if heard.elsewhere is not None:
        return Finding(
            "wrong_channel",
            "refuse",
            f"the signal arrives at input {heard.elsewhere + 1}, not at input {socket}",
            "The return lead is in the other socket.",
            f"Plug it into input {socket}, or start again with --in {heard.elsewhere + 1}.",
        )
    if heard.gain_db is None and heard.codes <= {"silent", "signal_not_found"}:
        return Finding(
            "nothing_arrives",
            "refuse",
            f"peak {heard.peak_dbfs:.0f} dBFS",
            "Nothing arrives, and through the coupler it must.",
            f"Check output {output}, input {socket}, both plugs at the coupler, the output knob.",
        )
    return None


def judge_level(heard: Heard) -> Finding | None:
    """Judge the working level that was found.

    Parameters
    ----------
    heard : Heard
        Through the coupler, at the working level.

    Returns
    -------
    Finding or None
        Code ``little_level``.
    """
    if heard.peak_dbfs >= TOO_LITTLE_DBFS:
        return None
    return Finding(
        "little_level",
        "look",
        f"peak {heard.peak_dbfs:.0f} dBFS at {heard.signal.level_dbfs:g} dBFS played",
        "Too little arrives: noise will widen every interval.",
        "Output knob up to its stop; if it is there, some input gain, and then leave it.",
    )


def judge_node(node_farad: float) -> Finding | None:
    """Judge the setup capacitance.

    Parameters
    ----------
    node_farad : float
        Farads.

    Returns
    -------
    Finding or None
        Code ``large_capacitance``: the resistor may sit at the wrong end.
    """
    if node_farad < LARGE_NODE_F:
        return None
    return Finding(
        "large_capacitance",
        "look",
        f"setup capacitance {node_farad * 1e12:.0f} pF",
        "As much as two leads: the resistor sits at the interface end, or the return lead is long.",
        "Turn the resistor lead round, so that the resistor is at the coupler; or a shorter lead.",
    )


def judge_mains(heard: Heard) -> Finding | None:
    """Judge hum at the level of setting up.

    Parameters
    ----------
    heard : Heard
        Through the coupler.

    Returns
    -------
    Finding or None
        Code ``hum``.
    """
    noise = heard.noise
    if noise is None or noise.mains_hz is None or noise.mains_over_noise_db < 20.0:
        return None
    return Finding(
        "hum",
        "look",
        f"mains {noise.mains_hz:.0f} Hz: {noise.mains_over_noise_db:.0f} dB above the noise",
        "Hum this high blurs the lowest octaves.",
        "Try the laptop on its battery, and all mains plugs in one outlet. Never lift an earth.",
    )


def judge_check(heard: Heard, socket: int) -> Finding | None:
    """See whether the check cable is heard.

    Parameters
    ----------
    heard : Heard
        With the check cable.
    socket : int
        Its input.

    Returns
    -------
    Finding or None
        Code ``check_cable_silent``.
    """
    if heard.check_gain_db is not None and heard.check_delay_s is not None:
        return None
    return Finding(
        "check_cable_silent",
        "refuse",
        f"nothing arrives at input {socket}",
        "The check cable is not plugged in, or that input's gain is closed.",
        "Plug it in, or go on without.",
    )
