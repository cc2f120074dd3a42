"""What stands on the table for `measure`: setup.toml, and the command line, which counts more."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from loopback.cli.level_meter import LevelMeter
from loopback.cli.rigs import Simulated, device_rig, read_check_cable
from loopback.cli.screen import Screen
from loopback.errors import RigError
from loopback.examination.reference_record import FILE_NAME
from loopback.examination.setup_record import SETUP_FILE, SetupRecord, read_setup
from loopback.rig.device_settings import DeviceSettings
from loopback.rig.protocol import Rig
from loopback.signal.take import Signal, plan_signal

SIMULATED = "Simulated interface"
"""What a setup file calls the simulator."""


@dataclass(frozen=True, slots=True)
class Table:
    """Interface, signal and resistor as they stand there.

    Parameters
    ----------
    record : SetupRecord
        Of setup.toml, changed by the command line.
    simulated : Simulated or None
        What stands in for hardware.
    signal : Signal
        What each take plays.
    references : Path or None
        Record of what the setup's references show; None: no setup file stands behind it.
    """

    record: SetupRecord
    simulated: Simulated | None
    signal: Signal
    references: Path | None


def table_of(said: dict[str, Any]) -> Table:
    """Put together setup.toml and what the command line says.

    Parameters
    ----------
    said : dict
        Options of the command.

    Returns
    -------
    Table
        Complete.

    Raises
    ------
    RigError
        If there is neither a setup nor a simulated pedal.
    ArgumentError, DocumentError
        If something cannot be read, or cannot be.
    """
    simulate: str | None = said["simulate"]
    simulated = None
    if simulate is not None:
        simulated = Simulated(simulate, said["seed"], tuple(said["mistake"]))
        simulated.rig()  # or it is refused
    path = Path(SETUP_FILE)
    record = read_setup(path) if path.exists() else None
    if record is not None and (record.device == SIMULATED) != (simulate is not None):
        record = None  # the setup of an interface says nothing about the simulator
    mine = record is not None and said["device"] is None
    references = path.with_name(FILE_NAME) if mine else None
    if record is None:
        if simulate is None and said["device"] is None:
            raise RigError(
                f"There is no {SETUP_FILE} of an interface in this folder.",
                "Interface, level and resistor are not known.",
                "First: loopback setup. Without an interface: add --simulate quarry-lamp, or see:"
                " loopback signal --help",
            )
        record = SetupRecord(
            device=SIMULATED if simulate is not None else str(said["device"]),
            rate_hz=96_000,
            level_dbfs=-12.0,
            ceiling_dbfs=-12.0,
            resistor_ohm=100e3,
            resistor_tolerance=0.01,
        )
    cable = read_check_cable(said["check_cable"])
    given = {
        "device": said["device"],
        "rate_hz": None if said["rate"] is None else round(said["rate"]),
        "sweep_s": said["seconds"],
        "level_dbfs": said["level"],
        "ceiling_dbfs": said["ceiling"],
        "resistor_ohm": said["resistor"],
        "resistor_tolerance": said["tolerance"],
        "check_output": cable[0] if cable else None,
        "check_input": cable[1] if cable else None,
    }
    known = {name: value for name, value in given.items() if value is not None}
    record = msgspec.structs.replace(record, **known)
    signal = plan_signal(record.rate_hz, record.sweep_s, record.level_dbfs, record.ceiling_dbfs)
    return Table(record, simulated, signal, references)


def rig_of(screen: Screen, table: Table, played: int) -> Rig:
    """Make the rig.

    Parameters
    ----------
    screen : Screen
        For the level meter.
    table : Table
        What stands there.
    played : int
        Runs already played, for the simulator.

    Returns
    -------
    Rig
        Ready to play.
    """
    record = table.record
    if table.simulated is not None:
        return table.simulated.rig(check_cable=record.check_input is not None, played=played)
    settings = DeviceSettings(
        record.device,
        record.driver,
        record.output,
        record.input,
        record.check_output,
        record.check_input,
        record.ceiling_dbfs,
        full_scale_dbu=record.full_scale_dbu,
    )
    return device_rig(settings, LevelMeter(screen))
