"""E-mails in two forms, handed to real mail servers that are secured, slow or choosy."""

import asyncio
import email.policy
import socket
import ssl
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from email.parser import BytesParser
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session
from pytest_httpserver import HTTPServer

from drywind import delivery
from drywind.alerts.page import page
from drywind.alerts.parts import Paragraph
from drywind.alerts.records import Decision, Message, Reason
from drywind.delivery import Destination, deliver_due, send_apprise
from drywind.store import Outcome, Store

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
LONG = "a line no server should have to take whole " * 40
STORY = f"Stack R7, gravel lot.\n\n  Loses 5.9 points at 35 °C; <safe> is 3.8.\n.\n{LONG}.\n"
PAGE = page("R7", [Paragraph(STORY)])
MESSAGE = Message("R7: hot dry wind", "R7 loses 5.9 pts/day.", STORY, PAGE)
CERTIFICATE = Path(__file__).with_name("loopback.pem")

# Apprise imports a module on its way out of Python.
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


@dataclass
class Inbox:
    """What a mail server took, and whom it refuses or keeps waiting."""

    port: int = 0
    refused: dict[str, str] = field(default_factory=dict)
    answer_after_s: float = 0.0
    mails: list[EmailMessage] = field(default_factory=list)
    recipients: list[str] = field(default_factory=list)

    async def handle_RCPT(  # noqa: N802 - the name aiosmtpd calls
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _: list[str]
    ) -> str:
        """Take or refuse a recipient."""
        if address in self.refused:
            return self.refused[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(  # noqa: N802 - the name aiosmtpd calls
        self, _server: SMTP, _session: Session, envelope: Envelope
    ) -> str:
        """Take a mail, slowly if told so."""
        content = envelope.original_content
        assert content is not None
        parser = BytesParser(EmailMessage, policy=email.policy.default)
        self.mails.append(parser.parsebytes(content))
        self.recipients += envelope.rcpt_tos
        await asyncio.sleep(self.answer_after_s)
        return "250 OK"

    def url(self, more: str = "", to: str = "ada@yard.test", way: str = "mailto://") -> str:
        """Return the way to somebody here."""
        return f"{way}127.0.0.1:{self.port}?from=drywind@yard.test&to={to}{more}"


@contextmanager
def serve(inbox: Inbox, **settings: Any) -> Iterator[Inbox]:
    """Run a mail server on loopback."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        inbox.port = probe.getsockname()[1]
    controller = Controller(inbox, hostname="127.0.0.1", port=inbox.port, **settings)
    controller.start()
    yield inbox
    controller.stop()


@pytest.fixture
def inbox() -> Iterator[Inbox]:
    with serve(Inbox()) as served:
        yield served


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "drywind.db") as opened:
        yield opened


def post(store: Store, key: str, made_at: datetime = NOW) -> None:
    """Put the message into the outbox, of use for a day."""
    until = made_at + timedelta(days=1)
    decision = Decision("Ada", "R7", "too_fast", Reason.FIRST, made_at, 1.5, made_at, until)
    assert store.record(decision, MESSAGE, key)


def body(mail: EmailMessage, form: str) -> str:
    """Return one of a mail's two forms, as it was written."""
    found = mail.get_body((form,))
    assert found is not None
    text: str = found.get_content()
    return text.replace("\r\n", "\n")


def test_a_mail_arrives_in_two_forms_each_word_for_word(store: Store, inbox: Inbox) -> None:
    post(store, "a")

    [(_, outcome)] = deliver_due(store, {"Ada": Destination(inbox.url(), "email")}, NOW)

    [mail] = inbox.mails
    assert outcome is Outcome.SENT
    assert mail.get_content_type() == "multipart/alternative"
    assert mail["Subject"].startswith(f"{MESSAGE.subject} [")
    assert [part.get_content_type() for part in mail.iter_parts()] == ["text/plain", "text/html"]
    assert body(mail, "plain") == STORY
    assert body(mail, "html") == PAGE
    assert max(map(len, mail.as_bytes().splitlines())) < 200
    assert mail.as_bytes().isascii()


def test_a_text_sent_to_a_mail_address_has_no_page(inbox: Inbox) -> None:
    assert send_apprise(inbox.url("&format=text"), MESSAGE, "text")[0] is Outcome.SENT

    [mail] = inbox.mails
    assert mail.get_content_type() == "text/plain"
    assert mail.get_content().strip() == MESSAGE.text


def test_an_email_by_a_web_service_is_the_story_alone(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/hook").respond_with_data("ok")

    url = f"json://127.0.0.1:{httpserver.port}/hook"
    assert send_apprise(url, MESSAGE, "email")[0] is Outcome.SENT

    [(request, _)] = httpserver.log
    assert request.get_json()["title"] == MESSAGE.subject
    assert request.get_json()["message"].split() == STORY.split()


def test_a_mail_that_is_to_be_encrypted_is_never_sent_open(inbox: Inbox) -> None:
    outcome, _ = send_apprise(inbox.url("&pgp=encrypt"), MESSAGE, "email")

    assert outcome is not Outcome.SENT
    assert inbox.mails == []


def test_all_attempts_at_a_mail_carry_one_id_and_no_other_mail_does(
    store: Store, inbox: Inbox
) -> None:
    contacts = {"Ada": Destination(inbox.url("&cto=1"), "email")}
    inbox.answer_after_s = 1.5
    post(store, "a")
    assert [outcome for _, outcome in deliver_due(store, contacts, NOW)] == [Outcome.UNKNOWN]
    inbox.answer_after_s = 0.0
    post(store, "b")

    deliver_due(store, contacts, NOW + timedelta(hours=1))

    first, *later = inbox.mails
    ids = {mail["Subject"]: mail["Message-ID"] for mail in later}
    assert ids.pop(f"{first['Subject']} (repeat?)") == first["Message-ID"]
    [other] = ids.values()
    assert other != first["Message-ID"]
    assert str(other).endswith("@yard.test>")


def test_a_store_begun_anew_gives_the_same_decision_another_id(
    tmp_path: Path, inbox: Inbox
) -> None:
    """Mail programs drop a mail whose ID they have seen, and a year later it is another one."""
    contacts = {"Ada": Destination(inbox.url(), "email")}
    for year in (0, 1):
        then = NOW + timedelta(days=365 * year)
        with Store(tmp_path / f"{year}.db") as store:
            post(store, "a", then)
            deliver_due(store, contacts, then)

    first, second = inbox.mails
    assert first["Message-ID"] != second["Message-ID"]


def test_names_copies_replies_and_headers_of_the_url_are_heeded(inbox: Inbox) -> None:
    more = "&name=Tamarack%20B%C3%B8nd&cc=lee@yard.test&bcc=sam@yard.test&reply=mill@yard.test"
    url = inbox.url(f"{more}&%2BX-Yard=Tamarack", to="Ada%20B.%20%3Cada@yard.test%3E")

    assert send_apprise(url, MESSAGE, "email")[0] is Outcome.SENT

    [mail] = inbox.mails
    assert mail["From"] == "Tamarack Bønd <drywind@yard.test>"
    assert mail["To"] == '"Ada B." <ada@yard.test>'
    assert (mail["Cc"], mail["Reply-To"]) == ("lee@yard.test", "mill@yard.test")
    assert (mail["X-Yard"], mail["X-Application"]) == ("Tamarack", "drywind")
    assert sorted(inbox.recipients) == ["ada@yard.test", "lee@yard.test", "sam@yard.test"]
    assert b"sam@" not in mail.as_bytes()
    assert mail["Date"].datetime.tzinfo is not None
    assert str(mail["Message-ID"]).endswith("@yard.test>")


def test_a_header_no_mail_can_have_fails_for_good_in_words(inbox: Inbox) -> None:
    outcome, why = send_apprise(inbox.url("&%2BSubject=Mine"), MESSAGE, "email")

    assert outcome is Outcome.FAILED_FOR_GOOD
    assert "headers" in why


@pytest.mark.parametrize(
    ("refused", "outcome", "mails"),
    [
        ({"lee@yard.test": "550 no such user"}, Outcome.UNKNOWN, 1),
        ({"ada@yard.test": "550 no", "lee@yard.test": "451 later"}, Outcome.FAILED_FOR_NOW, 0),
        ({"ada@yard.test": "550 no", "lee@yard.test": "550 no"}, Outcome.FAILED_FOR_GOOD, 0),
    ],
)
def test_of_several_addresses_none_is_given_up_that_may_yet_be_reached(
    inbox: Inbox, refused: dict[str, str], outcome: Outcome, mails: int
) -> None:
    inbox.refused = refused

    assert send_apprise(inbox.url("&cc=lee@yard.test"), MESSAGE, "email")[0] is outcome
    assert len(inbox.mails) == mails


def test_a_mail_server_slower_than_the_total_timeout_may_have_taken_the_mail(
    inbox: Inbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(delivery, "TIMEOUT_S", 1.0)
    inbox.answer_after_s = 3.0

    began = time.monotonic()
    outcome = send_apprise(inbox.url("&cto=10"), MESSAGE, "email")

    assert time.monotonic() - began < 2.5
    assert outcome == (Outcome.UNKNOWN, "no answer within 1 s")


def login(_: SMTP, _session: Session, _envelope: Envelope, _how: str, who: object) -> AuthResult:
    """Let in whoever knows the password."""
    return AuthResult(success=who == LoginPassword(b"ada", b"right"), handled=False)


@pytest.mark.parametrize("mode", ["starttls", "ssl"])
def test_a_secured_server_is_trusted_only_with_a_certificate_or_if_told_so(mode: str) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(CERTIFICATE)
    secured: dict[str, Any] = {"ssl_context": context, "auth_require_tls": False}
    if mode == "starttls":
        secured = {"tls_context": context, "require_starttls": True}
    with serve(Inbox(), authenticator=login, **secured) as inbox:
        url = inbox.url(f"&mode={mode}", way="mailtos://ada:right@")

        doubted = send_apprise(url, MESSAGE, "email")
        trusted = send_apprise(f"{url}&verify=no", MESSAGE, "email")
        mistaken = send_apprise(f"{url}&verify=no".replace("right", "wrong"), MESSAGE, "email")

    assert doubted == (Outcome.FAILED_FOR_NOW, "the service could not be reached")
    assert trusted == (Outcome.SENT, "accepted")
    assert mistaken == (Outcome.FAILED_FOR_GOOD, "refused by the mail server (535)")
    assert len(inbox.mails) == 1
