"""Serves browser files out of installed wheels, so that no third-party code lies in the repository."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import django_htmx
import plotly
from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

# plotly.js injects its style rules at run time, which a strict Content-Security-Policy forbids; it leaves them alone
# when a sheet with its id is already there, so the rules are read out of the bundle and served as a file of their own
_PAIR = re.compile(r"""("(?:[^"\\]|\\.)*"|[A-Za-z]+)\s*:\s*("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')""")
_START = '{"X,X div":'


def plotly_css(script: str) -> str:
    """The style rules inside a plotly.js bundle, as a sheet. ValueError when the bundle holds none."""
    start = script.index(_START)
    rules = []
    for selector, body in _PAIR.findall(script[start : script.index("};", start) + 1]):
        selector = selector.strip('"').replace("X", ".js-plotly-plot .plotly").replace("Y", ".plotly-notifier")
        rules.append(f"{selector}{{{body[1:-1]}}}")
    return "\n".join(rules)


def _ensure(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    source = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"
    wanted = {
        "plotly.min.js": source,
        "htmx.min.js": Path(django_htmx.__file__).parent / "static" / "django_htmx" / "htmx-2.min.js",
    }
    for name, path in wanted.items():
        target = folder / name
        if not target.exists() or target.stat().st_size != path.stat().st_size:
            if name == "plotly.min.js":
                _write(folder / "plotly.css", plotly_css(path.read_text(encoding="utf-8")).encode())
            _write(target, path.read_bytes())


def _write(target: Path, content: bytes) -> None:
    """Whole or not at all: another process may be reading or writing the same file."""
    draft = target.with_name(f"{target.name}.{os.getpid()}")
    draft.write_bytes(content)
    draft.replace(target)


class WheelFinder(BaseFinder):
    """Finds `vendor/plotly.min.js`, `vendor/plotly.css` and `vendor/htmx.min.js`."""

    names = ("plotly.min.js", "plotly.css", "htmx.min.js")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.folder = settings.DATA / "vendor"
        _ensure(self.folder)
        self.storage = FileSystemStorage(location=str(self.folder))
        self.storage.prefix = "vendor"  # type: ignore[attr-defined]  # collectstatic reads it
        super().__init__(*args, **kwargs)

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """The absolute path of `vendor/<name>`, or nothing."""
        name = path.removeprefix("vendor/")
        found = str(self.folder / name) if path.startswith("vendor/") and name in self.names else None
        if find_all:
            return [found] if found else []
        return found or []

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        for name in self.names:
            yield name, self.storage
