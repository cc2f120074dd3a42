"""Play runs into an examination in a process of its own: FOLDER DEVICE RATE RUNS.

One line is printed for each thing that happens, so that a test can act in the middle.
"""

from __future__ import annotations

import sys
from pathlib import Path

from loopback.errors import LoopbackError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.rig.device import DeviceRig
from loopback.rig.device_settings import DeviceSettings
from tests.contract.device_runs import asked


def main(folder: str, device: str, rate: str, runs: str) -> int:
    """Play, keep, report; 1 when an error ended it."""
    request = asked(int(rate))
    setup = Setup("device", device)
    examination = ExaminationFolder.create(Path(folder), Pedal("wire"), setup, request.signal)
    try:
        rig = DeviceRig(DeviceSettings(device), lambda done, _: print(f"at {done:.2f}", flush=True))
        for _ in range(int(runs)):
            run = examination.append_run(request.label)
            for recorded in rig.play(request):
                examination.append_recording(run, recorded)
                print("kept", *recorded.flags, flush=True)
    except LoopbackError as error:
        print(type(error).__name__, error, flush=True)
        return error.exit_status
    print("done", flush=True)
    sys.stdin.read()  # stay until told to go
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
