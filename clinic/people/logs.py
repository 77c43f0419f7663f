"""Log lines with a request id and no client data."""

from __future__ import annotations

import json
import logging
from contextvars import ContextVar

request_id: ContextVar[str] = ContextVar("request_id", default="-")


class RequestIdFilter(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id.get()
        return True


class LineFormatter(logging.Formatter):
    """One JSON object a line. An exception is named by type and place only: its message may quote what someone typed."""

    def format(self, record: logging.LogRecord) -> str:
        line = {
            "at": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "request": getattr(record, "request_id", "-"),
            "event": str(record.msg) if record.args else record.getMessage(),
        }
        if record.name.startswith("intervale") and isinstance(record.args, dict):
            line.update({key: value for key, value in record.args.items() if isinstance(value, int | str | float)})
        if record.exc_info and record.exc_info[0]:
            trace = record.exc_info[2]
            while trace and trace.tb_next:
                trace = trace.tb_next
            where = f"{trace.tb_frame.f_code.co_filename}:{trace.tb_lineno}" if trace else "?"
            line["error"] = f"{record.exc_info[0].__name__} at {where}"
        if record.name == "django.request":
            # "Internal Server Error", without the path after it, which may carry a secret link
            line["event"] = str(record.args[0]) if isinstance(record.args, tuple) and record.args else "request failed"
        return json.dumps(line, ensure_ascii=False)
