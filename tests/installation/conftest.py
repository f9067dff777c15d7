"""Packages from requirements.txt alone, put in by the paper's first step, once for all of these tests."""

import os
import shutil
from urllib.parse import urlsplit

import pytest
from aiosmtpd.controller import Controller

from tests.installation.paper import Terminal, block
from tests.services.installation import Letters, drop, free_port, own_database


@pytest.fixture(scope="session")
def packages(tmp_path_factory):
    """The folder `.venv` as the paper makes it."""
    terminal = Terminal(tmp_path_factory.mktemp("packages"), {}, {})
    terminal.type(block("-m venv"), settings=False)
    yield terminal.folder / ".venv"
    shutil.rmtree(terminal.folder)


@pytest.fixture
def letters():
    """A mail server; what it was handed is in `.kept`."""
    kept = Letters()
    server = Controller(kept, hostname="127.0.0.1", port=free_port())
    server.start()
    kept.address = f"smtp://127.0.0.1:{server.port}"
    yield kept
    server.stop()


@pytest.fixture(params=["PostgreSQL and Redis", "SQLite and files"])
def stores(request):
    """The addresses of an empty database and of a queue of its own; None where there is none."""
    if request.param == "SQLite and files":
        yield {"DATABASE_URL": None, "REDIS_URL": None}
        return
    database, redis = os.environ.get("DATABASE_URL", ""), os.environ.get("REDIS_URL", "")
    if not (database.startswith("postgres") and redis):
        pytest.skip("DATABASE_URL and REDIS_URL name no PostgreSQL and Redis")
    url = own_database(database)
    yield {"DATABASE_URL": url, "REDIS_URL": urlsplit(redis)._replace(path="/8").geturl()}
    drop(url)


@pytest.fixture
def terminal(packages, tmp_path, letters, stores):
    """A fresh checkout with the packages in it, before the paper's second step."""
    values = {**stores, "EMAIL_URL": letters.address}
    often = {"HOURMARK_SWEEP_SECONDS": "1", "HOURMARK_DIGEST_SECONDS": "1"}
    terminal = Terminal(tmp_path, values, often)
    (terminal.folder / ".venv").symlink_to(packages)
    yield terminal
    shutil.rmtree(terminal.folder)
