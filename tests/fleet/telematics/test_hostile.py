"""Servers that are broken or mean: each is refused with a reason on the source, and nothing is half taken."""

import contextlib
import datetime
import ipaddress
import ssl
import time
from dataclasses import replace
from urllib.parse import urlsplit

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from fixtures.telematics.server import Provider, as_xml
from fleet.models import Reading, TelematicsUnit
from fleet.telematics import credentials
from fleet.telematics import poll as telematics
from fleet.telematics.http_client import _Connection
from fleet.telematics.limits import MEGABYTE, USUAL
from tests.fleet.telematics.conftest import NOW, unit
from tests.fleet.telematics.test_detect_format import BOMB, SAMPLE, fleet

pytestmark = pytest.mark.django_db

FIRST, SECOND = "/Fleet/1", "/Fleet/2"


@pytest.fixture
def refused(source, machine, provider):
    """Read the source; give why it was refused, having seen that nothing was applied."""

    def ask(limits=USUAL):
        assert not telematics.read(source=source, forced=True, limits=limits, now=NOW)
        source.refresh_from_db()
        assert (source.state, source.error_at, source.good_at) == ("failing", NOW, None)
        assert source.busy_until is None
        assert source.next_try_at > NOW
        assert Reading.objects.count() == 0
        assert TelematicsUnit.objects.count() == 0
        return source.error

    return ask


def whole(body, status=200, **headers):
    return lambda handler: handler.answer(status, body, **headers)


def to(address, status=302):
    return whole(b"", status, Location=address)


def good_first_page(provider, following=SECOND):
    return as_xml(provider.told, {"self": FIRST, "next": following}, "").encode()


def test_an_xml_bomb(refused, provider):
    provider.special[FIRST] = whole(fleet("&c;", before=BOMB))
    assert "declares entities" in refused()


@pytest.mark.parametrize(
    "begun", [b"<!--", fleet("")[:-8], b'{"Equipment": ["'], ids=["comment", "XML", "JSON"]
)
@pytest.mark.parametrize("chunked", [False, True])
def test_two_gigabytes_are_cut_off(refused, provider, begun, chunked):
    sent = []

    def pour(handler):
        block = b"<Equipment></Equipment>" * 3000 if begun.startswith(b"<Fleet") else b"x" * 69_000
        handler.send_response(200)
        if chunked:
            handler.send_header("Transfer-Encoding", "chunked")
            block = b"%x\r\n%s\r\n" % (len(block), block)
        else:
            handler.send_header("Content-Length", str(2 * 1024**3))
        handler.end_headers()
        handler.wfile.write(b"%x\r\n%s\r\n" % (len(begun), begun) if chunked else begun)
        with contextlib.suppress(OSError):
            while sum(sent) < 2 * 1024**3:
                sent.append(handler.wfile.write(block))
        handler.close_connection = True

    provider.special[FIRST] = pour
    why = refused()
    assert "it was cut off" in why or "names more than 100,000 units" in why
    assert sum(sent) < 45 * MEGABYTE


INSIDE = {
    "another private machine": "http://127.0.0.2:{port}/Fleet/1",
    "written as one number": "http://2130706434:{port}/Fleet/1",
    "wrapped in IPv6": "http://[::ffff:127.0.0.2]:{port}/Fleet/1",
    "everywhere": "http://0.0.0.0:{port}/Fleet/1",
    "the network's own": "http://10.0.0.1/Fleet/1",
    "a cloud's secrets": "http://169.254.169.254/latest/",
}


@pytest.mark.parametrize("address", INSIDE.values(), ids=INSIDE)
@pytest.mark.parametrize("way", ["redirect", "link"])
def test_nobody_leads_inside(refused, provider, address, way):
    with Provider(lambda: [unit()], host="127.0.0.2") as inner:
        address = address.format(port=inner.origin.rpartition(":")[2])
        provider.special[FIRST] = (
            to(address) if way == "redirect" else whole(good_first_page(provider, address))
        )
        why = refused()
        assert inner.seen == []
    assert "in a private network" in why or "only read over https" in why


@pytest.mark.parametrize("address", ["file:///etc/passwd", "ftp://127.0.0.1/", "gopher://127.0.0.1/"])
def test_nor_to_what_is_no_web_server(refused, provider, address):
    provider.special[FIRST] = to(address)
    assert "must begin with https://" in refused()


def test_nor_does_a_name_that_stands_for_a_private_address(source, provider, settings):
    settings.TELEMATICS_INSIDE = [ipaddress.ip_network("127.0.0.2/32")]
    with Provider(lambda: [unit()], host="127.0.0.2") as outer:
        outer.special[FIRST] = to(provider.address.replace("127.0.0.1", "localhost"))
        source.url = outer.address
        source.save()
        assert not telematics.read(source=source, forced=True, now=NOW)
    source.refresh_from_db()
    assert "localhost is " in source.error
    assert provider.seen == []


def test_of_several_addresses_the_one_that_answers_is_used(provider):
    """A name may have an address of a kind of network that this machine hasn't got."""
    connection = _Connection(urlsplit(provider.address), ["127.0.0.3", "127.0.0.1"], timeout=5)
    connection.request("GET", FIRST)
    assert connection.getresponse().status == 200
    connection.close()


def test_redirects_without_end(refused, provider):
    provider.special[FIRST] = to(FIRST)
    assert "redirects more than 5 times" in refused()


def test_a_redirect_to_nowhere(refused, provider):
    provider.special[FIRST] = whole(b"", 302)
    assert "without saying where" in refused()


def test_a_login_goes_to_no_other_server(source, machine, provider):
    source.login, source.username, source.secret = "basic", "alder", credentials.lock("gate")
    source.save()
    with Provider(lambda: [unit()]) as other:
        provider.special[FIRST] = to(other.address)
        assert telematics.read(source=source, forced=True, now=NOW)
        assert other.seen == [(FIRST, None)]
    assert provider.seen[0][1].startswith("Basic ")


@pytest.mark.parametrize("links", [{"next": FIRST}, {"next": FIRST, "last": SECOND}, {"Next": "?#top"}])
def test_a_page_that_links_to_itself(refused, provider, links):
    provider.special[FIRST] = whole(as_xml(provider.told, links, "").encode())
    assert "Page 1 names a page that was read before" in refused()


def test_two_pages_that_link_to_each_other(refused, provider):
    provider.special[FIRST] = whole(good_first_page(provider))
    provider.special[SECOND] = whole(good_first_page(provider, FIRST))
    assert "Page 2 names a page that was read before" in refused()


def test_a_single_page_that_is_its_own_next_and_last_is_whole(source, machine, provider):
    """As in one maker's published sample: prev, next, last and self are all the same."""
    links = dict.fromkeys(("self", "prev", "next", "last"), FIRST)
    provider.special[FIRST] = whole(as_xml(provider.told, links, "").encode())
    assert telematics.read(source=source, forced=True, now=NOW)


def test_pages_without_end(refused, provider):
    provider.special = {
        f"/Fleet/{n}": whole(good_first_page(provider, f"/Fleet/{n + 1}")) for n in range(1, 20)
    }
    assert "more than 10 pages" in refused(replace(USUAL, pages=10))


@pytest.mark.parametrize("where", [FIRST, SECOND])
def test_half_a_document_on_any_page(refused, provider, where):
    provider.special[FIRST] = whole(good_first_page(provider))
    provider.special[where] = whole(SAMPLE[:1500])
    assert "Only part of the document arrived" in refused()


def test_a_line_that_drops_halfway(refused, provider):
    def drop(handler):
        handler.send_response(200)
        handler.send_header("Content-Length", str(len(SAMPLE)))
        handler.end_headers()
        handler.wfile.write(SAMPLE[:1500])
        handler.close_connection = True

    provider.special[FIRST] = drop
    assert "Only part of the document arrived" in refused()


@pytest.mark.parametrize(
    "begun", [b"HTTP/1.1 200 OK\r\n", b"HTTP/1.1 200 OK\r\nContent-Length: 9000\r\n\r\n<Fleet"]
)
def test_a_server_that_trickles_is_left_when_the_time_is_over(refused, provider, begun):
    def trickle(handler):
        with contextlib.suppress(OSError):
            handler.wfile.write(begun)
            for _ in range(100):
                handler.wfile.write(b"x")
                time.sleep(0.05)
        handler.close_connection = True

    provider.special[FIRST] = trickle
    begin = time.monotonic()
    assert "within 1 s" in refused(replace(USUAL, seconds=1.0))
    assert time.monotonic() - begin < 3


def test_a_server_that_says_nothing(refused, provider):
    provider.special[FIRST] = lambda handler: time.sleep(1.5)
    assert "did not answer for 0 s" in refused(replace(USUAL, quiet=0.4))


def test_a_wrong_login(refused, provider, source):
    provider.expected = "Basic right"
    assert refused() == "The server refuses the login (401). Check user name and password or token."
    assert "next" not in source.error


ANSWERS = {
    "not found": (whole(b"", 404), "nothing at this address (404)"),
    "no content": (whole(b"", 204), "answered 204"),
    "trouble": (whole(b"", 502), "an error of its own (502)"),
    "a pause": (whole(b"", 503), "asks us to wait (503)"),
    "a sign-in page": (whole(b"<!DOCTYPE html><html>", kind="text/html"), "a web page"),
    "text": (whole(b"maintenance tonight", kind="text/plain"), "neither XML nor JSON"),
    "packed": (whole(b"\x1f\x8b", Content_Encoding="gzip"), "compresses its answer"),
    "no HTTP": (lambda handler: handler.wfile.write(b"SSH-2.0-x\r\n\r\n"), "not valid HTTP"),
    "nothing at all": (lambda handler: setattr(handler, "close_connection", True), "not valid HTTP"),
}


@pytest.mark.parametrize(("answer", "why"), ANSWERS.values(), ids=ANSWERS)
def test_other_answers(refused, provider, answer, why):
    def once(handler):
        handler.close_connection = True
        answer(handler)

    provider.special[FIRST] = once
    assert why in refused()


def test_nobody_answers(refused, source, provider):
    with Provider(list) as gone:
        source.url = gone.address
        source.save()
    assert refused() == "No server answers at this address."


def test_no_such_server(refused, source):
    source.url = "https://feed.invalid/Fleet/1"  # RFC 2606: never to be found
    source.save()
    assert refused() == "There is no server named feed.invalid. Check the address."


def test_without_private_networks_only_encrypted_public_addresses_are_asked(refused, provider, settings):
    settings.TELEMATICS_INSIDE = []
    assert "must begin with https://" in refused()
    assert provider.seen == []


def certificate(folder, name):
    """A certificate that signs itself, for this IP address."""
    key = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "feed")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder(who, who, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(name))]), False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), True)
        .sign(key, hashes.SHA256())
    )
    path = folder / f"{name}.pem"
    plain = serialization.NoEncryption()
    path.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
        + made.public_bytes(serialization.Encoding.PEM)
    )
    return path


@pytest.mark.parametrize(
    ("name", "trusted", "why"),
    [
        ("127.0.0.1", True, ""),
        ("127.0.0.1", False, "can't be trusted"),
        ("127.0.0.9", True, "can't be trusted"),
    ],
)
def test_encrypted_connections_ask_for_a_certificate_of_that_host(
    source, machine, provider, tmp_path, monkeypatch, name, trusted, why
):
    path = certificate(tmp_path, name)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(path)
    provider._server.socket = context.wrap_socket(provider._server.socket, server_side=True)
    monkeypatch.setenv("SSL_CERT_FILE", str(path if trusted else tmp_path / "none.pem"))
    source.url = source.url.replace("http:", "https:")
    source.save()
    assert telematics.read(source=source, forced=True, now=NOW) is not bool(why)
    source.refresh_from_db()
    assert why in source.error
    assert machine.readings.count() == (0 if why else 1)
