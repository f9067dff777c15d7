"""A broker of files: kombu's filesystem transport, with files that are there whole or not at all.

kombu writes a message into the file that a worker may already be reading, and its tables of queues into
files it empties first. Here each file is written under another name and renamed; a reader takes a message
by renaming it, so that of several readers one gets it. What can't be read is set aside and told, once.
"""

import fcntl
import logging
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from queue import Empty
from typing import Any
from uuid import uuid4

from kombu.exceptions import ChannelError
from kombu.transport import filesystem
from kombu.transport.filesystem import exchange_queue_t
from kombu.utils.encoding import bytes_to_str, str_to_bytes
from kombu.utils.json import dumps, loads

log = logging.getLogger(__name__)

PART, TAKEN = ".part", ".taken"  # being written; being read
LEFT_BEHIND = 3600.0  # seconds; nobody writes or reads one file for so long


class Channel(filesystem.Channel):
    """kombu's channel, with another way of writing and reading its files.

    Transport options besides kombu's own: aside_folder, for files that can't be read.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.box = Path(self.data_folder_in)
        self.aside_folder = Path(self.transport_options.get("aside_folder", self.box.parent / "aside"))
        self._clear_up()

    # messages

    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:  # type: ignore[override]  # named as in kombu's own
        # nanoseconds since 1970 in twenty digits: the names sort by age, after a restart too
        name = f"{time.time_ns():020}_{uuid4()}.{queue}.msg"
        try:
            _write(Path(self.data_folder_out) / name, payload)
        except OSError as error:
            raise ChannelError(f"No message could be written to {self.data_folder_out}: {error}") from error

    def _get(self, queue: str) -> Any:  # type: ignore[override]
        for name in sorted(self._waiting(queue)):
            taken = self.box / f"{name}{TAKEN}"
            try:
                (self.box / name).rename(taken)
            except FileNotFoundError:
                continue  # another worker was quicker
            except OSError as error:
                raise ChannelError(f"No message can be taken from {self.box}: {error}") from error
            try:
                payload = loads(bytes_to_str(taken.read_bytes()))
                self.Message(payload, channel=self)  # refuses what is no message, however good the JSON
            except Exception as error:  # whatever was in that file, the next one is read
                self._set_aside(taken, name, error)
                continue
            try:
                taken.unlink()
            except FileNotFoundError:
                continue  # we were so slow that it was put back; whoever unlinks it has it
            return payload
        raise Empty

    def _size(self, queue: str) -> int:
        return len(self._waiting(queue))

    def _purge(self, queue: str) -> int:
        count = 0
        for name in self._waiting(queue):
            with suppress(FileNotFoundError):
                (self.box / name).unlink()
                count += 1
        return count

    def _waiting(self, queue: str) -> list[str]:
        try:
            with os.scandir(self.box) as entries:
                names = [entry.name for entry in entries]
        except FileNotFoundError:
            return []  # nothing was ever written
        except OSError as error:
            raise ChannelError(f"{self.box} can't be read: {error}") from error
        return [name for name in names if name.partition(".")[2] == f"{queue}.msg"]

    # tables of the queues that hang on an exchange

    def get_table(self, exchange: str) -> list[exchange_queue_t]:
        """Return who gets what is sent to the exchange."""
        file = self._exchange_file(exchange)
        try:
            return [exchange_queue_t(*row) for row in loads(bytes_to_str(file.read_bytes()))]
        except FileNotFoundError:
            return []
        except OSError as error:
            raise ChannelError(f"{file} can't be read: {error}") from error
        except Exception as error:  # the next who binds a queue writes it again
            self._set_aside(file, file.name, error)
            return []

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        row = exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._changing(exchange) as table:
            if row not in table:
                table.insert(0, row)

    def _delete(
        self, queue: str, exchange: str, routing_key: str, pattern: str, *args: Any, **kwargs: Any
    ) -> None:
        self._purge(queue)
        row = exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._changing(exchange) as table:
            if row in table:
                table.remove(row)

    @contextmanager
    def _changing(self, exchange: str) -> Iterator[list[exchange_queue_t]]:
        """Give the table, and write it if it was changed; nobody else changes one meanwhile.

        The lock is one on the open file and ends with the process: a lock file left behind locks nothing.
        """
        file = self._exchange_file(exchange)
        try:
            self.control_folder.mkdir(parents=True, exist_ok=True)
            with (self.control_folder / "lock").open("ab") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX)
                table = self.get_table(exchange)
                before = list(table)
                yield table
                if table != before:
                    _write(file, table)
        except OSError as error:
            raise ChannelError(f"{file} can't be written: {error}") from error

    # what was left lying about

    def _set_aside(self, file: Path, name: str, error: Exception) -> None:
        """Keep a file that can't be read where nobody reads it."""
        try:
            self.aside_folder.mkdir(parents=True, exist_ok=True)
            kept = self.aside_folder / name
            file.rename(kept)
        except FileNotFoundError:
            return  # another process did
        except OSError as trouble:
            kept = file
            log.error("a file of the broker can't be set aside: %s", trouble)
        log.error("a file of the broker can't be read (%s: %s); it is kept as %s", _kind(error), error, kept)

    def _clear_up(self) -> None:
        """Deal with what processes left that died as they wrote or read."""
        parts = [*self.box.glob(f"*{PART}"), *self.control_folder.glob(f"*{PART}")]
        for file in [*parts, *self.box.glob(f"*{TAKEN}")]:
            with suppress(OSError):
                if time.time() - file.stat().st_ctime < LEFT_BEHIND:  # of the last renaming
                    continue
                if file.suffix == PART:
                    self._set_aside(file, file.name, EOFError("its writer died"))
                else:
                    file.rename(file.with_suffix(""))  # back among those that wait


class Transport(filesystem.Transport):
    """`files://`, once `config.celery` has made the name known."""

    Channel = Channel


def _write(file: Path, content: Any) -> None:
    """Write a file so that it is there whole or, if that fails, not at all."""
    part = file.with_name(f"{file.name}.{uuid4().hex}{PART}")
    file.parent.mkdir(parents=True, exist_ok=True)
    try:
        part.write_bytes(str_to_bytes(dumps(content)))
        part.replace(file)
    except BaseException:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise


def _kind(error: Exception) -> str:
    return type(error).__name__
