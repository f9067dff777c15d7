"""Too many requests: 429 (RFC 6585, section 4) with Retry-After (RFC 9110, 10.2.3)."""

from datetime import UTC, datetime

import pytest
import time_machine
from django.core.cache import cache

from fleet.models import Reading

URL = "/api/v1/readings"


@pytest.fixture(autouse=True)
def _three_a_minute(settings, db):
    settings.CACHES = {
        "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "t"}
    }
    settings.REQUESTS_A_MINUTE = 3
    cache.clear()


def test_a_sender_is_told_to_wait_for_the_next_minute_and_another_is_not(farm):
    farm.machine(tag="T-07")
    box, other = farm.device(), farm.device()
    row = {"machine": "T-07", "taken_at": "2026-03-01T12:00:00Z", "meter": 1}
    with time_machine.travel(datetime(2026, 5, 4, 12, 0, 48, tzinfo=UTC), tick=False) as clock:
        assert [box.post(URL, row).status_code for _ in range(4)] == [200, 200, 200, 429]
        refused = box.post(URL, [row | {"meter": 2}])
        assert (refused["Content-Type"], refused["Retry-After"]) == ("application/problem+json", "12")
        assert other.post(URL, row).status_code == 200
        clock.shift(12)
        assert box.post(URL, row).status_code == 200
    with farm.scope():
        assert Reading.objects.count() == 1


def test_people_have_a_limit_of_their_own_over_all_routes(farm):
    client = farm.client("owner")
    with time_machine.travel(datetime(2026, 5, 4, 12, tzinfo=UTC), tick=False):
        urls = (URL, "/api/v1/machines", "/api/v1/tasks-due", "/api/v1/orders")
        assert [client.get(url).status_code for url in urls] == [200, 200, 200, 429]
        assert client.get("/machines/").status_code == 200  # pages are not counted


def test_without_its_cache_nobody_is_counted(farm, settings, caplog):
    settings.CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": "redis://127.0.0.1:1/0",
            "OPTIONS": {"socket_connect_timeout": 1},
        }
    }
    box = farm.device()
    assert [box.post(URL, []).status_code for _ in range(5)] == [200] * 5
    assert "the cache is down" in caplog.text
