"""Handing work to the queue: after commit only, and a broken broker never reaches the person."""

from functools import partial
from types import SimpleNamespace

import pytest
from kombu import Connection

from fleet.queue import publish_on_commit
from servicing.tasks import sweep


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


def through(connection, folder):
    """The task as it is, sent through another broker than the settings name."""
    send = partial(sweep.apply_async, connection=connection, queue=queue_of(folder))
    return SimpleNamespace(name=sweep.name, apply_async=send)


@pytest.mark.parametrize("breakage", [box_is_gone, table_is_empty, nobody_listens])
def test_a_broken_broker_is_logged_and_nothing_more(
    db, tmp_path, caplog, django_capture_on_commit_callbacks, breakage
):
    with breakage(tmp_path) as connection, django_capture_on_commit_callbacks(execute=True) as published:
        publish_on_commit(through(connection, tmp_path))
    assert len(published) == 1
    assert [record.levelname in ("WARNING", "ERROR") for record in caplog.records] == [True]
    assert "waits for the next sweep" in caplog.text


def test_a_task_is_queued_by_the_commit_not_before(db, tmp_path, django_capture_on_commit_callbacks):
    with broker_of_files(tmp_path) as connection:
        with django_capture_on_commit_callbacks() as waiting:
            publish_on_commit(through(connection, tmp_path))
        assert not list((tmp_path / "box").iterdir())
        waiting[0]()
        assert len(list((tmp_path / "box").iterdir())) == 1
