"""Several at the same moment, each on a connection of their own to a real PostgreSQL."""

from collections.abc import Callable
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection


@pytest.fixture
def several_writers():
    """Skip the test where the database has one writer at a time."""
    if connection.vendor != "postgresql":
        pytest.skip("DATABASE_URL names no PostgreSQL; SQLite has one writer at a time")


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """Run functions in threads, let go together; return what they returned, or re-raise what one raised."""
    answers: list[Any] = [None] * len(works)
    errors: list[Exception] = []
    start = Barrier(len(works))

    def run(place: int, work: Callable[[], Any]) -> None:
        try:
            start.wait(timeout=30)
            answers[place] = work()
        except Exception as error:
            errors.append(error)
        finally:
            connection.close()

    threads = [Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
        assert not thread.is_alive()
    if errors:
        raise errors[0]
    return answers
