"""The broker of files: nothing lost, nothing read twice, nothing half read, whoever dies or scribbles."""

import json
import os
import subprocess
import sys
import textwrap
import time
from collections import Counter
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection, Queue
from kombu.exceptions import ChannelError

from config import file_broker

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 120.0  # seconds for a process that takes one
QUEUE = "tasks"


@pytest.fixture
def broker(tmp_path):
    """Connect to a broker in a folder of its own."""
    with connect(tmp_path) as connection:
        yield connection.default_channel


def connect(folder):
    return Connection("files://localhost//", transport_options=options(folder))


def options(folder):
    return {
        "data_folder_in": str(folder / "box"),
        "data_folder_out": str(folder / "box"),
        "control_folder": str(folder / "control"),
    }


def publish(channel, text, queue=QUEUE):
    message = channel.prepare_message(
        json.dumps(text), content_type="application/json", content_encoding="utf-8"
    )
    channel.basic_publish(message, exchange="", routing_key=queue)


def read(channel, queue=QUEUE):
    message = channel.basic_get(queue, no_ack=True)
    return None if message is None else message.payload


def files(folder, pattern="*"):
    return sorted(each.name for each in folder.glob(pattern))


def run(script, *arguments, **more):
    """Start Python on a script that has `connect`, `publish` and `read` of this file at hand."""
    told = "from tests.config.test_file_broker import *\nimport sys\n" + textwrap.dedent(script)
    return subprocess.Popen(
        [sys.executable, "-c", told, *map(str, arguments)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        **more,
    )


def finish(*processes):
    """Wait for each to end well; return what each printed."""
    said = [each.communicate(timeout=PATIENCE)[0] for each in processes]
    assert {each.returncode for each in processes} == {0}
    return said


WRITER = """
    name, count = sys.argv[2], int(sys.argv[3])
    with connect(Path(sys.argv[1])) as connection:
        for number in range(count):
            publish(connection.default_channel, [name, number, "x" * (number * 37 % 9000)])
"""
# Its names sort before all others, so that none is left when a reader comes to the "end".
SCRIBBLER = """
    box = Path(sys.argv[1]) / "box"
    for number in range(int(sys.argv[2])):
        (box / f"00_{number}.tasks.msg").write_text('{"body": "half of a mess')
"""
READER = """
    with connect(Path(sys.argv[1])) as connection:
        while True:
            payload = read(connection.default_channel)
            if payload is None:
                time.sleep(0.01)
            elif payload == "end":
                break
            else:
                name, number, padding = payload
                assert padding == "x" * (number * 37 % 9000)
                print(name, number, flush=True)
"""


def test_thousands_of_messages_between_processes(tmp_path):
    """Two writers and three readers at once, and one who writes rubbish among it."""
    with connect(tmp_path) as connection:
        channel = connection.default_channel
        publish(channel, ["first", 0, ""])
        readers = [run(READER, tmp_path, stderr=subprocess.DEVNULL) for _ in range(3)]
        writers = [run(WRITER, tmp_path, name, 1500) for name in ("a", "b")]
        writers.append(run(SCRIBBLER, tmp_path, 200))
        finish(*writers)
        for _ in readers:
            publish(channel, "end")
        said = finish(*readers)
    got = Counter(line for each in said for line in each.splitlines())
    assert got == Counter({f"{name} {number}": 1 for name in "ab" for number in range(1500)} | {"first 0": 1})
    assert files(tmp_path / "box") == []
    assert files(tmp_path / "aside") == sorted(f"00_{number}.tasks.msg" for number in range(200))


def test_messages_are_read_in_the_order_they_were_written(broker, monkeypatch):
    for number, moment in enumerate((9_999_999, 10_000_000, 1_790_000_000_000_000_000)):
        monkeypatch.setattr(file_broker.time, "time_ns", lambda moment=moment: moment)
        publish(broker, number)
    assert [read(broker) for _ in range(4)] == [0, 1, 2, None]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b'{"body": "e30=", "prop',
        b"[]",
        b"{}",
        b"null",
        b"\xff\xfe\x00",
        b'{"properties": {}, "body": "e30="}',
        b'{"properties": {"delivery_tag": "1", "body_encoding": "base64"}, "body": "e"}',
        b"[" * 100_000,
        None,
    ],
)
def test_what_cannot_be_read_is_set_aside_and_told_once(broker, tmp_path, caplog, content):
    bad = tmp_path / "box" / f"0_bad.{QUEUE}.msg"
    bad.parent.mkdir()
    if content is None:
        bad.mkdir()
    else:
        bad.write_bytes(content)
    publish(broker, "good")
    assert [read(broker) for _ in range(3)] == ["good", None, None]
    (kept,) = (tmp_path / "aside").iterdir()
    assert kept.name == bad.name
    assert kept.is_dir() if content is None else kept.read_bytes() == content
    (line,) = caplog.records
    assert line.levelname == "ERROR"
    assert str(kept) in line.message


def test_a_message_that_another_worker_took_meanwhile(broker, tmp_path, monkeypatch):
    publish(broker, "mine")
    waiting = broker._waiting
    monkeypatch.setattr(broker, "_waiting", lambda queue: [f"0_gone.{queue}.msg", *waiting(queue)])
    assert read(broker) == "mine"
    assert read(broker) is None
    assert files(tmp_path, "aside/*") == []


def test_a_reader_so_slow_that_its_message_was_put_back_leaves_it_to_the_other(broker, tmp_path, monkeypatch):
    publish(broker, "once")

    def put_back(text):
        (taken,) = (tmp_path / "box").glob("*.taken")
        taken.rename(taken.with_suffix(""))
        return json.loads(text)

    monkeypatch.setattr(file_broker, "loads", put_back)
    with pytest.raises(Empty):
        broker._get(QUEUE)
    monkeypatch.undo()
    assert [read(broker), read(broker)] == ["once", None]


def test_a_full_disk_leaves_no_half_of_a_message(tmp_path):
    """The kernel refuses the writer more than 20 kB a file, as a full disk refuses more than it has."""
    script = """
        import resource
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
        with connect(Path(sys.argv[1])) as connection:
            publish(connection.default_channel, "small")
            try:
                publish(connection.default_channel, "x" * 40_000)
            except ChannelError as error:
                print(error)
    """
    (said,) = finish(run(script, tmp_path, env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}))
    assert "No message could be written" in said
    assert len(files(tmp_path / "box")) == 1
    with connect(tmp_path) as connection:
        channel = connection.default_channel
        assert [read(channel), read(channel)] == ["small", None]


def test_what_a_writer_or_reader_left_that_died(tmp_path, monkeypatch, caplog):
    box = tmp_path / "box"
    with connect(tmp_path) as connection:
        publish(connection.default_channel, "put back")
    (message,) = box.iterdir()
    message.rename(box / f"{message.name}.taken")
    (box / f"9_half.{QUEUE}.msg.1.part").write_text('{"body"')
    with connect(tmp_path) as connection:  # both may still be at work
        assert read(connection.default_channel) is None
        assert len(files(box)) == 2
    later = time.time() + file_broker.LEFT_BEHIND + 1
    monkeypatch.setattr(file_broker.time, "time", lambda: later)
    with connect(tmp_path) as connection:
        assert [read(connection.default_channel) for _ in range(2)] == ["put back", None]
    assert files(tmp_path / "aside") == [f"9_half.{QUEUE}.msg.1.part"]
    assert ["its writer died" in line.message for line in caplog.records] == [True]


BINDER = """
    with connect(Path(sys.argv[1])) as connection:
        channel = connection.default_channel
        for number in range(40):
            name = f"{sys.argv[2]}-{number}"
            Queue(name, exchange="all", routing_key=name).bind(channel).declare()
            table = channel.get_table("all")
            assert name in {row.queue for row in table}, table
"""


def test_tables_of_queues_that_many_change_at_once(tmp_path):
    binders = [run(BINDER, tmp_path, name) for name in "abc"]
    finish(*binders)
    with connect(tmp_path) as connection:
        names = [row.queue for row in connection.default_channel.get_table("all")]
    assert Counter(names) == Counter({f"{name}-{number}": 1 for name in "abc" for number in range(40)})
    assert files(tmp_path / "control") == ["all.exchange", "lock"]


def test_a_table_that_cannot_be_read_is_set_aside_and_written_anew(broker, tmp_path, caplog):
    table = tmp_path / "control" / "all.exchange"
    table.parent.mkdir()
    table.write_text('[["a", "", "a"')
    Queue("b", exchange="all", routing_key="b").bind(broker).declare()
    assert [row.queue for row in broker.get_table("all")] == ["b"]
    assert files(tmp_path / "aside") == ["all.exchange"]
    assert len(caplog.records) == 1


def test_a_lock_file_left_behind_locks_nothing(broker, tmp_path):
    (tmp_path / "control").mkdir()
    (tmp_path / "control" / "lock").write_text("12345")
    Queue("c", exchange="all", routing_key="c").bind(broker).declare()
    assert [row.queue for row in broker.get_table("all")] == ["c"]


def test_a_box_that_is_no_folder_is_told(tmp_path):
    (tmp_path / "box").write_text("")
    with connect(tmp_path) as connection:
        with pytest.raises(ChannelError, match="No message could be written"):
            publish(connection.default_channel, "lost?")
        with pytest.raises(ChannelError, match="can't be read"):
            read(connection.default_channel)


def test_queues_are_counted_and_emptied_one_by_one(broker):
    for queue in ("a", "b", "b"):
        publish(broker, "x", queue=queue)
    assert [broker._size(queue) for queue in "abc"] == [1, 2, 0]
    assert broker.queue_purge("b") == 2
    assert [broker._size(queue) for queue in "abc"] == [1, 0, 0]
