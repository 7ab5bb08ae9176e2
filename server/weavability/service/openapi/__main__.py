"""``python -m weavability.service.openapi FILE`` writes the description to a file."""

from __future__ import annotations

import sys
from pathlib import Path

from weavability.service.app import openapi_document
from weavability.service.openapi.document import written


def main(arguments: list[str]) -> int:
    """Write the description; 2 if no file is named."""
    if len(arguments) != 1:
        sys.stderr.write("usage: python -m weavability.service.openapi FILE\n")
        return 2
    Path(arguments[0]).write_bytes(written(openapi_document()))
    sys.stdout.write(f"wrote {arguments[0]}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
