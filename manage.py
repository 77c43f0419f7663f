#!/usr/bin/env python3
"""The one command of the project. On a bare Python it first makes `.venv` and installs the lock into it.

    python3 manage.py demo      the demo clinic: set up, seeded, served
    python3 manage.py tests     every check, as CI runs them
    python3 manage.py <other>   Django's commands and ours (migrate, import_sheets, …)
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
LEAST = (3, 11)


def interpreter() -> tuple[Path, Path]:
    """(the Python to use, the environment it lives in): the active virtual environment, or `.venv`, made if missing."""
    if sys.prefix != sys.base_prefix:
        return Path(sys.executable), Path(sys.prefix)
    home = ROOT / ".venv"
    python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        print("Making a virtual environment in .venv …", flush=True)
        subprocess.run([sys.executable, "-m", "venv", str(home)], check=True)
    return python, home


def install(python: Path, home: Path, lock: str) -> None:
    """Install `.locks/<lock>.txt`, hashes checked, unless this very lock is already in."""
    path = ROOT / ".locks" / f"{lock}.txt"
    stamp = home / f".intervale-{lock}-{hashlib.sha256(path.read_bytes()).hexdigest()[:16]}"
    if stamp.exists():
        return
    print(f"Installing the packages of {path.relative_to(ROOT)} (once; about half a minute) …", flush=True)
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "--require-hashes", "-r", str(path)], check=True, stderr=None)
    stamp.touch()


def main(arguments: list[str]) -> int:
    """Run the command; the exit code."""
    if sys.version_info < LEAST:
        print(f"Intervale needs Python {LEAST[0]}.{LEAST[1]} or newer; this is {sys.version.split()[0]}.")
        return 1
    command = arguments[0] if arguments else "help"
    lock = {"demo": "run", "tests": "test"}.get(command)
    if (lock or importlib.util.find_spec("django") is None) and "INTERVALE_PREPARED" not in os.environ:
        python, home = interpreter()
        try:
            install(python, home, lock or "run")
        except subprocess.CalledProcessError as error:
            print(f"Setting up stopped: {' '.join(error.cmd[:5])} … ended with code {error.returncode}.")
            return 1
        environment = {**os.environ, "INTERVALE_PREPARED": "1"}
        return subprocess.call([str(python), str(ROOT / "manage.py"), *arguments], env=environment)
    os.environ.pop("INTERVALE_PREPARED", None)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.project.settings")
    if command == "demo":
        os.environ["INTERVALE_DEMO"] = "1"
    if command == "tests":
        # a file's tests stay together on one of the processes, one process a core
        parallel = ["--numprocesses", "auto", "--dist", "loadfile"]
        return subprocess.call([sys.executable, "-m", "pytest", *parallel, *arguments[1:]], cwd=ROOT)
    from django.core.management import execute_from_command_line

    execute_from_command_line([sys.argv[0], *arguments])
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
