"""Which driver entries are one box: invented device lists in the form of each system.

How each driver lists and cuts names is common practice (PortAudio's device list on that system).
"""

from __future__ import annotations

import pytest

from loopback.errors import RigError
from loopback.rig.device_settings import DeviceSettings, access_sentence, choose_route
from loopback.rig.hosts import DriverEntry, choose_box, is_exact, list_boxes

MME, DS, WASAPI, WDMKS = "MME", "Windows DirectSound", "Windows WASAPI", "Windows WDM-KS"
CORE, ALSA, JACK = "Core Audio", "ALSA", "JACK Audio Connection Kit"


def _entries(*rows: tuple[str, str, int, int]) -> list[DriverEntry]:
    return [DriverEntry(i, name, host, n, m, 48e3) for i, (host, name, n, m) in enumerate(rows)]


WINDOWS = _entries(
    (MME, "Microsoft Sound Mapper - Input", 2, 0),
    (MME, "Loopback (Kestrel Two USB Audio", 2, 0),  # cut at 31 letters
    (MME, "Analogue 1 + 2 (Kestrel Two USB", 2, 0),
    (MME, "Mikrofon (High Definition Audio", 2, 0),
    (MME, "Microsoft Sound Mapper - Output", 0, 2),
    (MME, "Speakers (Kestrel Two USB Audio", 0, 2),
    (MME, "Lautsprecher (High Definition A", 0, 2),
    (DS, "Primärer Soundaufnahmetreiber", 2, 0),
    (DS, "Loopback (Kestrel Two USB Audio)", 2, 0),
    (DS, "Analogue 1 + 2 (Kestrel Two USB Audio)", 2, 0),
    (DS, "Mikrofon (High Definition Audio Device)", 2, 0),
    (DS, "Primärer Soundtreiber", 0, 2),
    (DS, "Speakers (Kestrel Two USB Audio)", 0, 2),
    (DS, "Lautsprecher (High Definition Audio Device)", 0, 2),
    (WASAPI, "Speakers (Kestrel Two USB Audio)", 0, 2),
    (WASAPI, "Lautsprecher (High Definition Audio Device)", 0, 2),
    (WASAPI, "Loopback (Kestrel Two USB Audio)", 2, 0),
    (WASAPI, "Analogue 1 + 2 (Kestrel Two USB Audio)", 2, 0),
    (WASAPI, "Mikrofon (High Definition Audio Device)", 2, 0),
    (WDMKS, "Output (wc4800_8219)", 0, 2),
    (WDMKS, "Input (wc4800_8219)", 2, 0),
)
WINDOWS_ASIO = [
    *WINDOWS,
    DriverEntry(len(WINDOWS), "Kestrel USB ASIO", "ASIO", 4, 4, 48e3),
]
MACOS = _entries(
    (CORE, "MacBook Microphone", 1, 0),
    (CORE, "MacBook Speakers", 0, 2),
    (CORE, "Kestrel Two", 2, 2),
    (CORE, "Kestrel Eight", 8, 8),
)
LINUX = _entries(
    (ALSA, "Kestrel Two: USB Audio (hw:1,0)", 2, 2),
    (ALSA, "HDA Intel PCH: ALC Analog (hw:0,0)", 2, 2),
    (ALSA, "HDA Intel PCH: ALC Digital (hw:0,1)", 2, 2),
    (ALSA, "HDA Intel PCH: HDMI 0 (hw:0,3)", 0, 8),
    (ALSA, "sysdefault", 128, 128),
    (ALSA, "pulse", 32, 32),
    (ALSA, "default", 32, 32),
    (JACK, "system", 2, 2),
)
TWINS = _entries(
    (ALSA, "Kestrel Two: USB Audio (hw:1,0)", 2, 2), (ALSA, "Kestrel Two: USB Audio (hw:2,0)", 2, 2)
)
LISTED = {
    "windows": (WINDOWS, ["Kestrel Two USB Audio", "High Definition Audio Device"]),
    "asio": (WINDOWS_ASIO, ["Kestrel Two USB Audio", "High Definition Audio Device"]),
    "macos": (MACOS, ["Kestrel Two", "Kestrel Eight", "MacBook Microphone", "MacBook Speakers"]),
    "linux": (LINUX, ["Kestrel Two", "HDA Intel PCH", "system"]),
    "twins": (TWINS, ["Kestrel Two", "Kestrel Two (2)"]),
    "none": ([], []),
}


@pytest.mark.parametrize("system", sorted(LISTED))
def test_each_box_is_listed_once(system: str) -> None:
    """Boxes stand once each in the list; mappers, defaults and plugins do not stand in it."""
    entries, names = LISTED[system]
    boxes = list_boxes(entries)
    assert sorted(box.name for box in boxes if not box.hidden) == sorted(names)
    # Nothing is lost: every entry belongs to exactly one box, shown or not.
    held = [entry.index for box in boxes for entry in box.entries]
    assert sorted(held) == [entry.index for entry in entries]


@pytest.mark.parametrize(
    ("system", "words", "routes"),
    [
        ("windows", "kestrel", [WASAPI, DS, MME]),
        ("asio", "kestrel", ["ASIO", WASAPI, DS, MME]),
        ("windows", "high definition", [WASAPI, DS, MME]),
        ("macos", "two", [CORE]),
        ("linux", "kestrel", [ALSA]),
        ("linux", "system", [JACK]),
        ("linux", "pulse", [ALSA]),  # hidden, but there for who names it
    ],
)
def test_exact_drivers_come_first(system: str, words: str, routes: list[str]) -> None:
    """The routes of a box are in order: what passes samples on unconverted stands first."""
    box = choose_box(list_boxes(LISTED[system][0]), words)
    assert [route.host for route in box.routes] == routes


def test_digital_returns_are_not_chosen() -> None:
    """An input that hears the computer itself is not taken where there is another."""
    route = choose_box(list_boxes(WINDOWS), "kestrel").routes[0]
    assert route.source.name == "Analogue 1 + 2 (Kestrel Two USB Audio)"
    assert route.sink.name == "Speakers (Kestrel Two USB Audio)"
    pch = choose_box(list_boxes(LINUX), "pch").routes[0]
    assert pch.source.name.endswith("(hw:0,0)")


def test_a_microphone_alone_is_no_choice() -> None:
    """What cannot play and record at once is listed, last, and never chosen."""
    boxes = list_boxes(MACOS)
    assert [bool(box.routes) for box in boxes] == [True, True, False, False]
    with pytest.raises(RigError, match='No interface is called "microphone"'):
        choose_box(boxes, "microphone")


def test_choice_by_number_words_or_nothing() -> None:
    """A number counts the shown list from 1; words go in any order and case; empty is the first."""
    boxes = list_boxes(MACOS)
    assert choose_box(boxes).name == "Kestrel Two"
    assert choose_box(boxes, "2").name == "Kestrel Eight"
    assert choose_box(boxes, " EIGHT kestrel ").name == "Kestrel Eight"
    assert choose_box(boxes, "Kestrel Two").name == "Kestrel Two"
    second = choose_box(list_boxes(TWINS), "Kestrel Two (2)")
    assert second.entries[0].name.endswith("(hw:2,0)")


@pytest.mark.parametrize(
    ("system", "words", "message"),
    [
        ("macos", "kestrel", 'fits 2 interfaces.*1: "Kestrel Two" or 2: "Kestrel Eight"'),
        ("twins", "two", "fits 2 interfaces"),
        ("macos", "3", 'no interface number 3.*1: "Kestrel Two"'),
        ("macos", "0", "no interface number 0"),
        ("linux", "osprey", 'No interface is called "osprey".*"system"'),
        ("none", "", "No audio interface that can play and record"),
        ("none", "1", "No audio interface that can play and record"),
    ],
)
def test_a_choice_that_fails_lists_what_there_is(system: str, words: str, message: str) -> None:
    """Ambiguous, unknown or missing: the error says what can be chosen."""
    with pytest.raises(RigError, match=message):
        choose_box(list_boxes(LISTED[system][0]), words)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        (DeviceSettings(input=3), "has no input 3; its driver offers 2"),
        (DeviceSettings(output=0), "has no output 0; its driver offers 2"),
        (DeviceSettings(check_input=5), "has no input 5"),
        (DeviceSettings(check_output=5), "has no output 5"),
        (DeviceSettings(driver="asio"), 'no driver called "asio". There is: Core Audio'),
    ],
)
def test_sockets_and_drivers_are_checked(settings: DeviceSettings, message: str) -> None:
    """A socket or driver that is not there is refused before anything is opened."""
    with pytest.raises(RigError, match=message):
        choose_route(choose_box(list_boxes(MACOS), "two"), settings)


def test_a_driver_can_be_asked_for() -> None:
    """Part of its name is enough."""
    box = choose_box(list_boxes(WINDOWS), "kestrel")
    assert choose_route(box, DeviceSettings(driver="mme")).host == MME


@pytest.mark.parametrize(
    ("host", "exclusive", "words"),
    [
        (WASAPI, True, "Exclusive access: yes"),
        (WASAPI, False, "Exclusive access: no. The system may mix"),
        (MME, True, "Exclusive access: no. MME may convert"),
        (ALSA, False, "unconverted"),
    ],
)
def test_access_is_stated_clearly(host: str, exclusive: bool, words: str) -> None:
    """The user reads whether the system can touch the samples."""
    assert words in access_sentence(host, exclusive=exclusive)
    assert is_exact(host) == (host != MME)
