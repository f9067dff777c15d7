"""What is the settings' fault, or the server's: it burns no mail, and those who can mend it are told."""

import socket
import ssl
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address

import pytest
from aiosmtpd.controller import Controller
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from notifications import outbox
from tests.notifications.bad_server import BadServer
from tests.notifications.sending import NOW, deliver, post, subjects


def settings_at_fault(over_smtp, server):
    """Ways for the settings to be wrong, each with a part of what is said of it."""
    server.extensions = ["AUTH PLAIN", "STARTTLS"]
    server.answers["AUTH"] = "535 wrong"
    yield "refused the name and password", {"HOST_USER": "farm", "HOST_PASSWORD": "lantern"}
    yield "EMAIL_URL", {"HOST_USER": "farm", "HOST_PASSWORD": "läntern"}
    server.answers["STARTTLS"] = "501 no"
    yield "takes no mail from us", {"USE_TLS": True}
    server.extensions = ["AUTH GSSAPI"]
    yield "EMAIL_URL", {"HOST_USER": "farm", "HOST_PASSWORD": "lantern"}
    server.extensions = ["8BITMIME"]
    yield "AUTH", {"HOST_USER": "farm", "HOST_PASSWORD": "lantern"}
    yield "STARTTLS", {"USE_TLS": True}
    yield "EMAIL_URL", {"USE_TLS": True, "USE_SSL": True}


def test_settings_that_are_wrong_burn_no_mail_and_are_told(in_farm, over_smtp, caplog):
    plain = {"HOST_USER": "", "HOST_PASSWORD": "", "USE_TLS": False, "USE_SSL": False}
    with BadServer() as server:
        moment, message, other = NOW, post(in_farm), post(in_farm)
        for said, wrong in settings_at_fault(over_smtp, server):
            over_smtp(server.port, **plain | wrong)
            for _ in range(outbox.MOST_ATTEMPTS + 1):
                caplog.clear()
                deliver(message, moment)
                assert (message.state, message.attempts) == ("queued", 0), said
                assert said in message.error
                assert [record.levelname for record in caplog.records] == ["ERROR"]
                assert outbox.deliver(message_id=other.pk, now=moment) is None  # spared the same try
                assert message.next_try_at == moment + timedelta(minutes=15)
                moment = message.next_try_at
        over_smtp(server.port, **plain)
        assert deliver(message, moment).state == "sent"
        assert deliver(other, moment).state == "sent"
        assert subjects(server) == {"Two duties": 2}


def test_a_sign_in_that_fails_for_now_is_only_waited_for(in_farm, over_smtp):
    with BadServer(AUTH="454 later") as server:
        server.extensions = ["AUTH PLAIN"]
        over_smtp(server.port, HOST_USER="farm", HOST_PASSWORD="lantern")
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == ("queued", 1)


def test_a_server_that_is_away_is_waited_for_longer_than_a_night(in_farm, over_smtp):
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    over_smtp(port)
    message, moment = post(in_farm), NOW
    while moment < NOW + outbox.WAITED_FOR_SERVER:
        assert deliver(message, moment).state == "queued"
        assert timedelta(0) < message.next_try_at - moment <= outbox.LONGEST_WAIT
        moment = message.next_try_at
    assert message.attempts > outbox.MOST_ATTEMPTS
    assert deliver(message, moment).state == "failed"
    assert "can't be reached" in message.error


@pytest.mark.parametrize("sender", ["", "Hourmark", "härk@example.org", "Farm\nBcc: <a@example.org>"])
def test_a_sender_that_cannot_be_one_is_a_fault_of_the_settings(in_farm, over_smtp, settings, sender):
    with BadServer() as server:
        over_smtp(server.port)
        settings.DEFAULT_FROM_EMAIL = sender
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == ("queued", 0)
        assert "HOURMARK_MAIL_FROM" in message.error
        assert server.commands == []


class Letters:
    """An aiosmtpd handler that keeps recipients and contents."""

    def __init__(self):
        self.kept = []

    async def handle_DATA(self, server, session, envelope):
        self.kept.append((envelope.rcpt_tos, envelope.smtp_utf8, envelope.content.decode()))
        return "250 OK"


@pytest.fixture
def served(over_smtp):
    """Start a good server with these options and let mail go to it; give what it keeps."""
    started = []

    def serve(**options):
        letters = Letters()
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        started.append(Controller(letters, hostname="127.0.0.1", port=port, **options))
        started[-1].start()
        over_smtp(port)
        return letters.kept

    yield serve
    for each in started:
        each.stop()


def test_a_mailbox_with_other_letters_is_written_to_where_the_server_can(in_farm, served):
    """RFC 6531 and 6532: the address goes out as it is, in UTF-8."""
    kept = served(enable_SMTPUTF8=True)
    assert deliver(post(in_farm, address="mära@example.org")).state == "sent"
    ((recipients, utf8, content),) = kept
    assert (recipients, utf8) == (["mära@example.org"], True)
    assert "To: mära@example.org\r\n" in content
    assert content.endswith("Ängel: öl\r\n.\r\n..\r\nend\r\n")


def test_a_domain_with_other_letters_needs_nothing_of_the_server(in_farm, served):
    kept = served(enable_SMTPUTF8=False)
    assert deliver(post(in_farm, address="mara@höfe.example")).state == "sent"
    assert kept[0][0] == ["mara@xn--hfe-sna.example"]


def certificate(folder):
    """Make a certificate that signs itself, as one for this machine; return a server's context."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    today = datetime.now(UTC)
    signed = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(today - timedelta(days=1))
        .not_valid_after(today + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .sign(key, hashes.SHA256())
    )
    chain = folder / "chain.pem"
    pem = serialization.Encoding.PEM
    secret = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    chain.write_bytes(secret + signed.public_bytes(pem))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(chain)
    return context, chain


def test_a_server_nobody_vouches_for_is_not_trusted_with_mail(
    in_farm, served, tmp_path, settings, monkeypatch
):
    context, chain = certificate(tmp_path)
    kept = served(tls_context=context, require_starttls=True)
    settings.EMAIL_USE_TLS = True
    message = deliver(post(in_farm))
    assert (message.state, message.attempts) == ("queued", 0)
    assert "certificate verify failed" in message.error
    assert kept == []
    monkeypatch.setenv("SSL_CERT_FILE", str(chain))
    assert deliver(message, message.next_try_at).state == "sent"
    assert len(kept) == 1


def test_tls_cut_as_it_begins_is_only_waited_for(in_farm, over_smtp):
    with BadServer(lambda number: "starttls") as server:
        server.extensions = ["STARTTLS"]
        over_smtp(server.port, USE_TLS=True)
        message = deliver(post(in_farm))
        assert (message.state, message.attempts) == ("queued", 1)
