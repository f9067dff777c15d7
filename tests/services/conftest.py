"""An installation for each test that asks for one."""

import os

import pytest

from tests.services.installation import Installation


@pytest.fixture
def postgres():
    if not os.environ.get("DATABASE_URL", "").startswith("postgres"):
        pytest.skip("DATABASE_URL names no PostgreSQL whose connections could be cut or made to wait")


@pytest.fixture
def installation(tmp_path):
    redis_url = os.environ.get("REDIS_URL")
    if not redis_url:
        pytest.skip("REDIS_URL is not set; these tests want a real Redis")
    own = (
        f"{redis_url.rsplit('/', 1)[0]}/{8 + os.getpid() % 7}"
        if redis_url.count("/") > 2
        else f"{redis_url}/9"
    )
    running = Installation(tmp_path, own)
    yield running
    running.stop()
