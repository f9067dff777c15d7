"""What the papers say of the installation is what it does: settings, processes, containers."""

import re
import shlex

import yaml

from tests.config.test_settings import ROOT
from tests.installation.paper import block, blocks

PAPER = (ROOT / "config" / "INSTALL.md").read_text()
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
# A container listens to its own network, and has no room for the data of its workers' heartbeats elsewhere.
OF_CONTAINERS = ("--bind=", "--worker-tmp-dir=", "--access-logfile=", "--schedule=")


def settings_read():
    """The variables that the settings ask for."""
    code = "".join(each.read_text() for each in (ROOT / "config").glob("*.py"))
    asked = r'(?:env\.\w+|number|truth|environ\.get)\(\s*"([A-Z_]+)"'
    return set(re.findall(asked, code))


def test_every_setting_is_in_the_paper():
    read = settings_read()
    assert {"HOURMARK_ENV", "HOURMARK_SECRET_KEY", "DATABASE_URL", "REDIS_URL", "EMAIL_URL"} <= read
    rows = "".join(line for line in PAPER.splitlines() if line.startswith("| `"))
    assert read == set(re.findall(r"`((?:HOURMARK_|DATABASE_|REDIS_|EMAIL_)[A-Z_]+)`", rows))


def test_the_proxy_is_told_the_limit_that_is_kept(settings):
    assert f"bodies of {settings.LARGEST_BODY // 1024**2} MB" in PAPER


def test_containers_get_only_settings_there_are():
    named = set(COMPOSE["x-app"]["environment"])
    assert named <= settings_read()
    asked = re.findall(r"^([A-Z_]+)=", block("hourmark.env <<"), re.MULTILINE)
    assert set(asked) <= named


def test_containers_run_what_the_paper_runs():
    (processes,) = blocks("sh processes")
    for line in processes.splitlines():
        program, *arguments = shlex.split(line)
        name = next(each for each in ("worker", "beat", "web") if each in arguments or each == "web")
        wanted = shlex.split(
            re.sub(r" --bind \S+", "", " ".join([program.removeprefix(".venv/bin/"), *arguments]))
        )
        found = [each for each in COMPOSE["services"][name]["command"] if not each.startswith(OF_CONTAINERS)]
        assert [part for each in found for part in each.split("=")] == wanted, name
    before = COMPOSE["services"]["migrate"]["command"][-1].split(" && ")
    assert [f".venv/bin/{each}" for each in before] == block("migrate").strip().splitlines()[:2]


def test_a_web_server_is_not_started_again_because_a_worker_is_gone():
    check = " ".join(COMPOSE["services"]["web"]["healthcheck"]["test"])
    assert re.findall(r"/health\S*?(?=\")", check) == ["/health/web"]
