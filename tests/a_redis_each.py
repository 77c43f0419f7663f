"""Gives each parallel test process a Redis database of its own: clearing the cache empties a whole database.

A plugin named in pyproject.toml, because it must be loaded before the settings are.
"""

from __future__ import annotations

import os
import re

worker, address = os.environ.get("PYTEST_XDIST_WORKER", ""), os.environ.get("INTERVALE_REDIS", "")
if worker and address:
    number = int(re.search(r"/(\d+)$", address)[1]) + 1 + int(worker.removeprefix("gw"))
    os.environ["INTERVALE_REDIS"] = re.sub(r"/\d+$", f"/{number}", address)
