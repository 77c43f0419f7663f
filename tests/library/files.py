"""A library of one region to be spoilt or edited."""

import json
import shutil
from pathlib import Path

from programs.library.actions.load_library import FOLDER

NECK = FOLDER / "neck.json"


def copy_neck(to: Path) -> Path:
    """The neck's exercises, their poses, and their words in Spanish."""
    (to / "poses").mkdir()
    (to / "es").mkdir()
    shutil.copy(FOLDER / "poses" / "common.json", to / "poses")
    shutil.copy(NECK, to)
    shutil.copy(FOLDER / "es" / "neck.json", to / "es")
    reasons = json.loads((FOLDER / "es" / "reasons.json").read_text())["reasons"]
    used = {row["reason"] for entry in json.loads(NECK.read_text())["exercises"] for row in entry["precautions"]}
    (to / "es" / "reasons.json").write_text(json.dumps({"reasons": {english: reasons[english] for english in used}}))
    return to


def edit(folder: Path, change, name: str = "neck.json", part: str = "exercises") -> None:
    """Let `change` alter one part of a file."""
    path = folder / name
    data = json.loads(path.read_text())
    change(data[part])
    path.write_text(json.dumps(data))
