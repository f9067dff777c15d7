"""An installation for each test that asks for one."""

import os
import shutil

import pytest

from tests.services.broker import Broker
from tests.services.installation import Installation


@pytest.fixture
def postgres():
    if not os.environ.get("DATABASE_URL", "").startswith("postgres"):
        pytest.skip("DATABASE_URL names no PostgreSQL whose connections could be cut or made to wait")


@pytest.fixture
def redis():
    if not os.environ.get("REDIS_URL"):
        pytest.skip("REDIS_URL is not set; these tests want a real Redis")


@pytest.fixture
def broker(tmp_path):
    if not shutil.which("redis-server"):
        pytest.skip("there is no redis-server here to be started and killed")
    own = Broker(tmp_path)
    own.start()
    yield own
    own.kill()


@pytest.fixture
def installation(redis, tmp_path, broker):
    running = Installation(tmp_path, broker.url)
    yield running
    running.stop()
