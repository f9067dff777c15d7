"""Handing work to the queue: after commit only, and a broken broker never reaches the person."""

import ast
from functools import partial
from pathlib import Path

import pytest
from celery import current_app
from kombu import Connection

from fleet.core.queue import publish_on_commit

ROOT = Path(__file__).parents[3]
TASK = "servicing.tasks.sweep"


def broker_of_files(folder):
    """A broker of message files in a folder, as it stands after its first start."""
    for name in ("box", "control"):
        (folder / name).mkdir()
    return Connection(
        "filesystem://localhost//",
        transport_options={
            "data_folder_in": str(folder / "box"),
            "data_folder_out": str(folder / "box"),
            "control_folder": str(folder / "control"),
            "store_processed": False,
        },
    )


def box_is_gone(folder):
    connection = broker_of_files(folder)
    (folder / "box").rmdir()
    return connection


def table_is_empty(folder):
    """Another process has just begun the file that tells which queues there are."""
    connection = broker_of_files(folder)
    (folder / "control" / f"{queue_of(folder)}.exchange").touch()
    return connection


def nobody_listens(folder):
    return Connection("redis://127.0.0.1:1/0", transport_options={"socket_connect_timeout": 1})


def queue_of(folder):
    """A queue no test has used before: a process declares each queue it knows only once."""
    return f"in-{folder.name}"


@pytest.fixture
def through(monkeypatch, tmp_path):
    """Has tasks sent through another broker than the settings name."""

    def send_through(connection):
        send = partial(current_app.send_task, connection=connection, queue=queue_of(tmp_path))
        monkeypatch.setattr(current_app, "send_task", send)

    return send_through


@pytest.mark.parametrize("breakage", [box_is_gone, table_is_empty, nobody_listens])
def test_a_broken_broker_is_logged_and_nothing_more(
    db, tmp_path, caplog, django_capture_on_commit_callbacks, breakage, through
):
    with breakage(tmp_path) as connection, django_capture_on_commit_callbacks(execute=True) as published:
        through(connection)
        publish_on_commit(TASK)
    assert len(published) == 1
    assert [record.levelname in ("WARNING", "ERROR") for record in caplog.records] == [True]
    assert "waits for the next sweep" in caplog.text


def test_a_task_is_queued_by_the_commit_not_before(db, tmp_path, django_capture_on_commit_callbacks, through):
    with broker_of_files(tmp_path) as connection:
        through(connection)
        with django_capture_on_commit_callbacks() as waiting:
            publish_on_commit(TASK)
        assert not list((tmp_path / "box").iterdir())
        waiting[0]()
        assert len(list((tmp_path / "box").iterdir())) == 1


def published_by(path):
    """Each call of `publish_on_commit` in a module, by the line it stands in, with the names in it."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "publish_on_commit":
            written = {each.value for each in ast.walk(node.args[0]) if isinstance(each, ast.Constant)}
            yield f"{path.relative_to(ROOT)}:{node.lineno}", written


def test_every_task_that_is_published_by_name_exists():
    current_app.loader.import_default_modules()
    modules = [path for app in ("fleet", "servicing", "notifications") for path in (ROOT / app).rglob("*.py")]
    named = dict(found for path in modules for found in published_by(path))
    assert len(named) >= 6
    assert [place for place, names in named.items() if not names or names - set(current_app.tasks)] == []
