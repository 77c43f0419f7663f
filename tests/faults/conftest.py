"""The long matrix needs a real PostgreSQL and Redis to kill, so only the run on these collects it; the other one holds the
one-process mode on SQLite."""

from __future__ import annotations

import os

FULL = os.environ.get("INTERVALE_DATABASE", "").startswith("postgres")
collect_ignore = ["test_one_process.py", "test_no_room.py"] if FULL else ["test_full_stack.py", "test_busy_table.py"]
