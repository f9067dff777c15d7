"""What the whole suite shares: the cast, and that with HOURMARK_NO_SKIP=1 a skipped test is a failed one.

On a machine that has every service a skip hides a missing check, so there it counts as a
failure and keeps the reason the test gave. Expected failures (xfail) are left as they are.
A pure test needs nothing that a machine may lack, so its skip is a failure everywhere.
"""

import os
from uuid import uuid4

import pytest
from django.test import TransactionTestCase
from kombu import Connection

from config.celery import app

pytest_plugins = ["tests.at_once", "tests.cast"]


@pytest.fixture(autouse=True, scope="session")
def _own_queue():
    """Put this process's tasks on a queue of its own, which no worker and no other test process reads.

    Named before the first task is published: Celery keeps what it read of its settings and tasks then.
    """
    app.conf.task_default_queue = f"test-{uuid4().hex}"
    with Connection(app.conf.broker_url, transport_options=app.conf.broker_transport_options) as connection:
        queue = connection.SimpleQueue(app.conf.task_default_queue)
        yield queue
        queue.queue.delete()
        queue.close()


@pytest.fixture
def task_queue(_own_queue):
    """The queue on the broker the settings name, with nothing of an earlier test on it."""
    _own_queue.clear()
    return _own_queue


@pytest.fixture(autouse=True)
def quick_passwords(settings):
    """Hash new passwords quickly; a slow hash is what Django tests, not we."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *settings.PASSWORD_HASHERS]


@pytest.fixture(autouse=True)
def static_files_when_asked_for(settings):
    """Look a static file up when it is asked for; else each new test client walks through all there are."""
    settings.WHITENOISE_AUTOREFRESH = True


NEEDS = {"service", "doors", "demo", "browser", "installation", "django_db"}


def pytest_collection_modifyitems(items):
    """Mark what runs the same on every database, so that CI runs it on one alone."""
    for item in items:
        marked = {mark.name for mark in item.iter_markers()}
        in_database = issubclass(getattr(item, "cls", None) or object, TransactionTestCase)
        if not in_database and not marked & NEEDS and not {"db", "transactional_db"} & set(item.fixturenames):
            item.add_marker(pytest.mark.pure)


NO_SKIP = os.environ.get("HOURMARK_NO_SKIP") == "1"


def _refuse_skip(report, *, always=False):
    """Turn the report of a skip into a failure that still tells why it wanted to skip."""
    if (NO_SKIP or always) and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        why = "it is pure" if always else "HOURMARK_NO_SKIP=1"
        report.outcome = "failed"
        report.longrepr = f"{report.nodeid}: nothing may be skipped here ({why}), but: {reason}"
    return report


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_makereport(item, call):
    """See each test's report last, after pytest has marked the expected failures."""
    return _refuse_skip((yield), always=bool(item.get_closest_marker("pure")))


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_make_collect_report(collector):
    """See a whole file's report too: a file can skip itself while it is collected."""
    return _refuse_skip((yield))
