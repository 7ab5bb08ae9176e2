"""``weavability-server``, and ``python -m weavability``: the service, if its packages are there."""

from __future__ import annotations

import sys
from typing import Final

WRONG_USE: Final = 2


def main() -> int:
    """Run the service; 2 if its packages are not installed, with a sentence that says so."""
    try:
        from weavability.service.gunicorn import command
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] == __package__:
            raise
        sys.stderr.write(
            f"weavability-server: the service needs the package {error.name}, which is not "
            "installed: pip install 'weavability[server]'\n"
        )
        return WRONG_USE
    return command.main()


if __name__ == "__main__":
    sys.exit(main())
