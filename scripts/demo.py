"""From a fresh machine to a first result: `python3 scripts/demo.py`.

Needs nothing but Python 3.11 or newer. Makes `.venv` beside the sources, installs the package
there, and runs the demo in the directory it is called from. What follows goes to the demo.
"""

from __future__ import annotations

import subprocess
import sys
import time

from environment import CannotPrepareError, prepare


def main(arguments: list[str]) -> int:
    """Do all of it; the exit status is that of the demo."""
    print("The bypass tester: make .venv, install the package into it, run the demo.", flush=True)
    try:
        python = str(prepare())
    except CannotPrepareError as error:
        print(f"! {error}", file=sys.stderr)
        return 1
    # Once per machine the drawing library lists all fonts and Python compiles the sources: seconds
    # that belong to the installation.
    subprocess.run(
        [python, "-c", "import loopback.guided.plan_runner, loopback.report.pictures"], check=False
    )
    begun = time.monotonic()
    status = subprocess.run([python, "-m", "loopback", "demo", *arguments], check=False).returncode
    if status == 0:
        print(f"\nThat took {time.monotonic() - begun:.1f} s. All commands, from here:")
        print(f"            {python} -m loopback --help")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
