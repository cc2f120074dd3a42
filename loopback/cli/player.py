"""``loopback player``: what one pedal, or a row of them, changes for a guitar."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from loopback.cli.folders import pasted
from loopback.cli.options import OHM, Verb, common
from loopback.cli.screen import screen_of
from loopback.cli.show import analysed
from loopback.errors import ArgumentError, FolderError
from loopback.quantity import parse_value


def _value(low: float, high: float, example: str, unit: str) -> Callable[[str], float]:
    def value(text: str) -> float:
        shown = str(text)
        try:
            number = parse_value(shown.removesuffix(unit) if unit == "m" else shown, unit)
        except ArgumentError as error:
            raise click.BadParameter(str(error)) from error
        if not low <= number <= high:
            raise click.BadParameter(f'"{text}" is outside what can be; write it like {example}.')
        return number

    return value


METRES = _value(0.0, 100.0, "3m", "m")
FARAD = _value(0.0, 1e-6, "100p", "F")


@click.command(
    "player",
    cls=Verb,
    examples=(
        "loopback player harbour-bell",
        "loopback player harbour-bell quarry-lamp salt-lantern --lead 6m --amp-lead 6m",
    ),
)
@click.argument(
    "folders", nargs=-1, required=True, metavar="FOLDER...", type=click.Path(path_type=Path)
)
@click.option("--lead", type=METRES, default="3m", show_default=True, help="Guitar to first pedal.")
@click.option("--patch", type=METRES, default="0.3m", show_default=True, help="Pedal to pedal.")
@click.option("--amp-lead", type=METRES, default="0m", show_default=True, help="Last pedal to amp.")
@click.option("--amp", type=OHM, default="1M", show_default=True, help="Input of the amplifier.")
@click.option("--amp-farad", type=FARAD, default="100p", show_default=True, help="Its capacitance.")
@common
@click.pass_context
def command(
    context: click.Context,
    folders: tuple[Path, ...],
    lead: float,
    patch: float,
    amp_lead: float,
    amp: float,
    amp_farad: float,
) -> None:
    """Say what pedals in bypass change between a guitar and an amplifier.

    FOLDER: one examined pedal, or several in the order in which the signal passes them. Two pickups
    are computed, a single coil and a twin coil, against the same leads without the pedals.
    """
    screen = screen_of(context)
    analyses = [analysed(screen, folder) for folder in folders]
    from loopback.player.chain import Leads, find_chain
    from loopback.player.pickup import Amplifier
    from loopback.report.player_table import player_screen

    devices = []
    for folder, analysis in zip(folders, analyses, strict=True):
        if analysis.device is None:
            raise FolderError(
                f'What the pedal in "{folder}" leaves on the line is not known.',
                "Only a pedal that passes in bypass, and was measured, can be put in a row.",
                f"See what its result says:  loopback show {pasted(folder)}",
            )
        devices.append(analysis.device)
    leads, amplifier = Leads(lead, patch, amp_lead), Amplifier(amp, amp_farad)
    found = find_chain(devices, leads, amplifier)
    names = [analysis.examination.pedal.name for analysis in analyses]
    screen.result(player_screen(found, names, leads, amplifier, signs=screen.signs))
