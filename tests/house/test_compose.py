"""docker-compose.yml says what runs. There is no container engine in the tests: the schema and our own reading stand in."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "docker-compose.yml"
COMPOSE = yaml.safe_load(FILE.read_text("utf-8"))
SERVICES = COMPOSE["services"]
OURS = ("migrate", "web", "worker", "beat")


def _schema_says(path: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec", str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_it_holds_against_the_compose_schema_and_a_misspelt_key_does_not(tmp_path):
    done = _schema_says(FILE)
    assert done.returncode == 0, done.stdout
    wrong = tmp_path / "docker-compose.yml"
    wrong.write_text(FILE.read_text("utf-8").replace("depends_on: &after", "dependson: &after"), encoding="utf-8")
    assert _schema_says(wrong).returncode != 0


@pytest.mark.parametrize("name", OURS)
def test_our_containers_may_write_nothing_and_are_nobody_special(name):
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["user"] == "10001:10001"
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert all(entry.startswith("/tmp") for entry in service["tmpfs"])
    assert service["environment"]["INTERVALE_DATA"].startswith("/tmp/")


SECRETS = {
    "INTERVALE_SECRET_KEY", "INTERVALE_SECRET_KEY_OLD", "INTERVALE_DATABASE_PASSWORD", "INTERVALE_SMTP_PASSWORD",
    "INTERVALE_SMS_KEY", "INTERVALE_SMS_SIGNING_KEY", "INTERVALE_METRICS_TOKEN",
}


def test_secrets_come_as_files_and_none_is_in_the_file():
    environment = SERVICES["web"]["environment"]
    assert environment["INTERVALE_DATABASE_PASSWORD_FILE"] == "/run/secrets/database_password"
    for name in SECRETS:
        secret = name.removeprefix("INTERVALE_").lower()
        assert environment[f"{name}_FILE"] == f"/run/secrets/{secret}"
        assert secret in COMPOSE["secrets"]
        assert all(secret in SERVICES[service]["secrets"] for service in OURS)
    assert {*SECRETS, "POSTGRES_PASSWORD"} & set(environment) == set()
    # whatever sounds like a secret is one of these
    assert {name for name in environment if name.endswith(("KEY", "_OLD", "PASSWORD", "TOKEN", "SECRET"))} == set()
    assert "POSTGRES_PASSWORD" not in SERVICES["postgres"]["environment"]
    assert all(entry["file"].startswith("./.data/") for entry in COMPOSE["secrets"].values())   # git does not see it


def test_the_head_of_the_file_makes_every_secret_it_mounts():
    head = FILE.read_text("utf-8").split("name: intervale")[0]
    for entry in COMPOSE["secrets"].values():
        assert Path(entry["file"]).name in head


def test_everything_waits_for_the_migration_and_is_watched():
    for name in ("web", "worker", "beat"):
        assert SERVICES[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}
    assert all("healthcheck" in service for name, service in SERVICES.items() if name != "migrate")
    assert SERVICES["migrate"]["depends_on"]["postgres"] == {"condition": "service_healthy"}
    assert COMPOSE["networks"]["inside"] == {"internal": True}
    assert [name for name, service in SERVICES.items() if "ports" in service] == ["web"]


def test_every_setting_it_sets_is_one_that_is_read():
    code = "".join(path.read_text("utf-8") for path in (ROOT / "clinic" / "project").glob("*.py"))
    for name in SERVICES["web"]["environment"]:
        assert name.removesuffix("_FILE") in code or name == "PORT"


def test_the_image_takes_the_lock_with_hashes_and_only_what_exists():
    recipe = SERVICES["migrate"]["build"]["dockerfile_inline"]
    assert "--require-hashes --requirement .locks/run.txt" in recipe
    assert "--hash=sha256:" in (ROOT / ".locks" / "run.txt").read_text("utf-8")
    for line in re.findall(r"^COPY (.*)$", recipe, re.MULTILINE):
        assert all((ROOT / source).exists() for source in line.split()[:-1]), line
    assert recipe.index("collectstatic") < recipe.index("USER 10001")
