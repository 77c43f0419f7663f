"""Write the description of the API into the repository."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.test import Client

FILE = Path(__file__).resolve().parents[2] / "openapi.json"


class Command(BaseCommand):
    help = "Write clinic/project/openapi.json from the code."

    def handle(self, *args: Any, **options: Any) -> None:
        answer = Client().get("/api/v1/openapi.json", headers={"Accept": "application/json"})
        FILE.write_text(json.dumps(answer.json(), indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8")
        self.stdout.write(f"Wrote {FILE.name}.")
