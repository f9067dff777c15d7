"""Bodies that are too large, cut short or without a length, sent to a real server byte by byte."""

import json
import socket
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest

from tests.services.installation import Installation, wait_for
from tests.services.test_faults import SEED

pytestmark = [pytest.mark.service, pytest.mark.security]

MEGABYTE = 1024 * 1024
SECRET = "a" * 32  # what a form and its cookie must share (Django, CSRF)
HEAD = (
    f'--edge\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n{SECRET}\r\n'
    '--edge\r\nContent-Disposition: form-data; name="file"; filename="hours.csv"\r\n'
    "Content-Type: text/csv\r\n\r\n"
).encode()
END = b"\r\n--edge--\r\n"
PAGE, API = "/readings/files/", "/api/v1/readings"
LONG = b"x" * MEGABYTE


class Line:
    """One connection to the server; sends what it is told, true or not."""

    def __init__(self, address, path, **headers):
        parts = urlsplit(address)
        self.socket = socket.create_connection((parts.hostname, parts.port), timeout=20)
        said = {"Host": parts.netloc, "Content-Type": "multipart/form-data; boundary=edge"}
        said |= {name.replace("_", "-"): value for name, value in headers.items()}
        lines = [f"POST {path} HTTP/1.1", *(f"{name}: {value}" for name, value in said.items()), "", ""]
        self.socket.sendall("\r\n".join(lines).encode())

    def __enter__(self):
        return self

    def __exit__(self, *exception):
        self.socket.close()

    def send(self, *data):
        for each in data:
            self.socket.sendall(each)

    def no_more(self):
        """Say that nothing more is coming, and go on listening."""
        self.socket.shutdown(socket.SHUT_WR)

    def answer(self):
        """Return the status, the media type and the body as far as it came at once."""
        got = b""
        while b"\r\n\r\n" not in got or len(got.partition(b"\r\n\r\n")[2]) < length_in(got):
            more = self.socket.recv(65536)
            if not more:
                break
            got += more
        head, _, body = got.partition(b"\r\n\r\n")
        kind = next((line for line in head.split(b"\r\n") if line.lower().startswith(b"content-type")), b"")
        return int(got.split(b" ")[1]), kind.partition(b": ")[2].decode(), body.decode()


def length_in(got):
    lines = got.partition(b"\r\n\r\n")[0].lower().split(b"\r\n")
    return next((int(line.partition(b":")[2]) for line in lines if line.startswith(b"content-length")), 0)


@pytest.fixture(params=[1, 4], ids=["one at a time", "threads"])
def house(request, installation: Installation, tmp_path):
    """The installation, a token of its owner, its address and the folder of its temporary files."""
    spool = tmp_path / "spool"
    spool.mkdir()
    installation.environment["TMPDIR"] = str(spool)
    token = installation.python(SEED)
    return installation, token, installation.serve(threads=request.param), spool


def left(spool):
    """What stands in the folder of temporary files but for the workers' heartbeats, which have no name."""
    return [(each.name, each.stat().st_size) for each in spool.iterdir()]


def files_kept(installation):
    return installation.python(
        "from django_scopes import scopes_disabled\nfrom fleet.models import SentFile\n"
        "with scopes_disabled():\n    answer = SentFile.objects.count()"
    )


def test_a_body_is_read_within_its_limit_or_not_at_all(house):
    installation, token, address, spool = house
    cookie = {"Cookie": f"csrftoken={SECRET}"}
    known = {"Authorization": f"Bearer {token}"}
    unknown = {"Authorization": "Bearer made-up"}

    # Too large: told by the length alone, whoever sends it, whatever else is wrong.
    for path in (PAGE, "/sign-in/", "/nowhere/", "/admin/login/", API, "/api/v1/nowhere"):
        for who in (cookie, known, unknown):
            with Line(address, path, Content_Length=26 * MEGABYTE, **who) as line:
                line.send(HEAD)
                status, kind, body = line.answer()
            assert status == 413, (path, who)
            assert "larger than 25 MB" in body
            assert kind.startswith("application/problem+json" if path.startswith("/api/") else "text/html")
    with Line(address, PAGE, Content_Length=10**18, **cookie) as line:
        line.send(HEAD, b"x")
        line.no_more()  # too large, and cut short
        assert line.answer()[0] == 413

    # Without a length: not read either, however much comes.
    for path in (PAGE, API):
        with Line(address, path, Transfer_Encoding="chunked", **known) as line:
            line.send(b"100000\r\n", LONG[:1024])
            status, _, body = line.answer()
        assert status == 411
        assert "Content-Length" in body

    # Two lengths at once, and what is no length: the server in front of us refuses them.
    for headers in (
        {"Content_Length": 26 * MEGABYTE, "Transfer_Encoding": "chunked"},
        {"Content_Length": "-1"},
        {"Content_Length": "1e9"},
    ):
        with Line(address, PAGE, **cookie, **headers) as line:
            assert line.answer()[0] == 400

    # Within the limit, but cut short: nothing of it passes for a file.
    whole = len(HEAD) + 20 * MEGABYTE + len(END)
    with Line(address, PAGE, Content_Length=whole, **cookie) as line:
        line.send(HEAD, *[LONG] * 13)
        wait_for(lambda: left(spool), seconds=20, otherwise=installation.said)  # it is being written down
        line.no_more()
        assert line.answer()[0] == 403
    as_json = {**known, "Content_Type": "application/json"}
    with Line(address, API, Content_Length=2 * MEGABYTE, **as_json) as line:
        line.send(b'[{"machine": "T-00"')
        line.no_more()
        status, _, body = line.answer()
    assert status == 400
    assert "ended before its Content-Length" in json.loads(body)["detail"]
    with Line(address, PAGE, Content_Length=whole, **cookie) as line:
        line.send(HEAD, *[LONG] * 13)  # and then the line is gone

    # The largest one that is taken, from nobody: read, refused, and nothing stays.
    with Line(address, PAGE, Content_Length=whole, **cookie) as line:
        line.send(HEAD, *[LONG] * 20, END)
        status, _, _ = line.answer()
        assert status == 302  # to the sign-in
    wait_for(lambda: not left(spool), seconds=20, otherwise=lambda: f"{left(spool)}")
    assert files_kept(installation) == 0
    assert urlopen(f"{address}/health/web").status == 200
