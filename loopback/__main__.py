"""``python -m loopback`` is the command line."""

from __future__ import annotations

from loopback.cli.main import main

if __name__ == "__main__":
    main()
