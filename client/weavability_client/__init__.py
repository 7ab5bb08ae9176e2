"""Client of the Weavability service: can this cloth be woven, on which loom, how fast, and how.

Example::

    from weavability_client import Client

    with Client("http://127.0.0.1:8080") as client:
        report = client.validate(construction, loom_id="rapier-190-dobby")
        print(report.verdict, report.rates.speed_picks_per_min, report.rates.limited_by)
        for finding in report.errors:
            print(finding)
"""

from __future__ import annotations

from weavability_client import errors, models
from weavability_client._many import ItemResult, Result
from weavability_client._sheets import read_xlsx, write_xlsx
from weavability_client._version import __version__
from weavability_client.client import Client
from weavability_client.errors import *  # noqa: F403 (named in its __all__)
from weavability_client.models import *  # noqa: F403 (named in its __all__)
from weavability_client.models._generated import *  # noqa: F403 (mypy loses them on the way)

__all__ = ["Client", "ItemResult", "Result", "__version__", "read_xlsx", "write_xlsx"]
__all__ += errors.__all__
__all__ += models.__all__
