"""Boxes that send readings over HTTP, each with its yard's token."""

import json
import threading
import time
from collections import Counter
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection

import numpy as np

YARDS, BATCH = 4, 500
SINGLES_A_SECOND = 50
STARTED = datetime.now(UTC).replace(microsecond=0)
Batches = list[list[bytes]]  # for each yard, the bodies its box sends, one after another


def machine_tag(number: int) -> str:
    """The tag of a machine, by its number."""
    return f"M-{number:05d}"


def made(machines: int, each: int, order: str) -> tuple[Batches, np.ndarray]:
    """Readings twice a day up to now, `each` of every machine, cut into bodies in the order asked for.

    Also what each meter shows at the end.
    """
    first = STARTED - timedelta(hours=12 * each)
    chance = np.random.default_rng(7)
    ran = np.round(np.cumsum(chance.gamma(2.0, 1.5, (machines, each)).clip(0, 11), axis=1), 1)
    wrong = chance.random((machines, each)) < 0.01
    wrong[:, :3] = False  # what comes first is believed
    shown = np.where(wrong, np.round(ran * 10 + 500, 1), ran)

    def row(machine: int, n: int) -> dict[str, object]:
        return {
            "machine": machine_tag(machine),
            "taken_at": (first + timedelta(hours=12 * n, minutes=machine % 50)).isoformat(),
            "meter": float(shown[machine, n]),
            "client_id": f"{machine:05d}-{n:03d}",
        }

    of_yard = machines // YARDS
    batches: Batches = []
    for yard in range(YARDS):
        own = range(yard * of_yard, (yard + 1) * of_yard)
        if order == "rounds":
            rows = [row(machine, n) for n in range(each) for machine in own]
        else:
            rows = [row(machine, n) for machine in own for n in range(each)]
        cut = [rows[n : n + BATCH] for n in range(0, len(rows), BATCH)]
        batches.append([json.dumps({"readings": part}).encode() for part in cut])
    return batches, ran[:, -1]


class Box:
    """A sender with a token of its own, on one connection that it keeps."""

    def __init__(self, port: int, secret: str) -> None:
        self.headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
        self.connection = HTTPConnection("127.0.0.1", port, timeout=60)

    def send(self, body: bytes, key: str) -> bytes:
        """Send one body; return the answer's. Any status but 200 ends the measurement."""
        for again in (True, False):
            try:
                self.connection.request(
                    "POST", "/api/v1/readings", body, self.headers | {"Idempotency-Key": f'"{key}"'}
                )
                answer = self.connection.getresponse()
                told = answer.read()
                break
            except (ConnectionError, OSError):  # the server closed a connection that had been idle
                self.connection.close()
                if not again:
                    raise
        if answer.status != 200:
            raise SystemExit(f"{answer.status}: {told.decode()[:300]}")
        return told


def sent(port: int, secrets: list[str], batches: Batches, key: str) -> tuple[float, Counter[str]]:
    """Seconds until every box has every answer, and how many rows had each outcome."""
    told: list[list[bytes]] = [[] for _ in secrets]

    def run(place: int) -> None:
        box = Box(port, secrets[place])
        for n, body in enumerate(batches[place]):
            told[place].append(box.send(body, f"{key}-{n}"))

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(secrets))]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    seconds = time.perf_counter() - began
    tally: Counter[str] = Counter()
    for answers in told:
        for answer in map(json.loads, answers):
            tally.update({name: answer[name] for name in ("counted", "held", "duplicate", "refused")})
    return seconds, tally


def singles(port: int, secrets: list[str], shown: np.ndarray, seconds: int) -> np.ndarray:
    """Milliseconds of single readings, 50 due each second, from the moment each was due to its answer."""
    total, of_yard = SINGLES_A_SECOND * seconds, len(shown) // YARDS
    took = np.zeros(total)
    boxes = 16
    began = time.perf_counter() + 0.5

    def run(first: int) -> None:
        yard = first % YARDS
        box = Box(port, secrets[yard])
        for n in range(first, total, boxes):
            machine = yard * of_yard + n // YARDS % of_yard
            row = {
                "machine": machine_tag(machine),
                "taken_at": datetime.now(UTC).isoformat(),
                "meter": float(shown[machine]) + 0.1 * (n // len(shown)),
                "client_id": f"single-{n}",
            }
            due = began + n / SINGLES_A_SECOND
            time.sleep(max(0.0, due - time.perf_counter()))
            answer = json.loads(box.send(json.dumps(row).encode(), f"single-{n}"))
            took[n] = (time.perf_counter() - due) * 1000
            assert answer["counted"] == 1, answer

    threads = [threading.Thread(target=run, args=(first,)) for first in range(boxes)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took
