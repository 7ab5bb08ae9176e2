"""How long importing the client takes, as a ratio to starting Python alone.

Run: ``.venv/bin/python tests/bench/client_import.py``
"""

from __future__ import annotations

import subprocess
import sys
from typing import Final

ROUNDS: Final = 12
PROGRAM: Final = "import time, sys; {}; print(time.process_time())"


def least_cpu_s(statement: str) -> float:
    """Least CPU time of a new Python that runs a statement."""
    command = [sys.executable, "-c", PROGRAM.format(statement)]
    return min(
        float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
        for _ in range(ROUNDS)
    )


def main() -> None:
    """Print both times and their ratio."""
    alone, client = least_cpu_s("pass"), least_cpu_s("import weavability_client")
    print(f"Python alone {1000 * alone:.0f} ms, with the client {1000 * client:.0f} ms of CPU")
    print(f"ratio {client / alone:.2f}")


if __name__ == "__main__":
    main()
