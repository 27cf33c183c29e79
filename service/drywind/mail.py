"""A mail in two forms, plain text and page, so that each reader is shown the one fit for it.

Apprise reads the address of the mail server and of the recipient from the URL, but would make up
the plain text from the page by itself; so a mail goes out from here.
"""

import re
import smtplib
import ssl
from base64 import b64decode
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import formataddr, formatdate, make_msgid
from typing import Any

from drywind.alerts.records import Message
from drywind.store import Outcome


def is_mail(service: Any) -> bool:
    """Tell whether an Apprise service is a mail server to hand mails to as they are.

    One that is to encrypt them is left to Apprise.
    """
    return bool(service.protocol == "mailto" and service.pgp_mode == "no")


def send_mail(service: Any, message: Message) -> tuple[Outcome, str]:
    """Hand a mail to the mail server of an Apprise service; return how it ended and, in words, why.

    Silence, once the server was told of the mail, may mean that it took it.
    """
    try:
        mail = _compose(service, message)
    except ValueError:
        return (
            Outcome.FAILED_FOR_GOOD,
            "the contact's URL asks for addresses or headers no mail can have",
        )
    return _submit(service, mail)


def _submit(service: Any, mail: EmailMessage) -> tuple[Outcome, str]:
    handed_over = False
    try:
        with _connected(service) as server:
            handed_over = True
            refused = server.send_message(mail, service.from_addr[1], _recipients(service))
    except smtplib.SMTPRecipientsRefused as error:
        return replied(min(code for code, _ in error.recipients.values()))
    except smtplib.SMTPResponseException as error:
        return replied(error.smtp_code)
    except (OSError, RuntimeError):
        if handed_over:
            return Outcome.UNKNOWN, "handed over, but not answered"
        return Outcome.FAILED_FOR_NOW, "the service could not be reached"
    if refused:
        return Outcome.UNKNOWN, "accepted for some of the contact's addresses only"
    return Outcome.SENT, "accepted"


def _compose(service: Any, message: Message) -> EmailMessage:
    """Return the mail, with the page beside the plain text if there is one.

    Raises
    ------
    ValueError
        If an address or a header of the service cannot be written.
    """
    mail = EmailMessage(SMTP)
    mail["Subject"] = " ".join(message.subject.split())
    mail["From"] = formataddr((service.from_addr[0] or None, service.from_addr[1]))
    mail["To"] = ", ".join(formataddr((name or None, address)) for name, address in service.targets)
    for header, addresses in (("Cc", service.cc), ("Reply-To", service.reply_to)):
        if addresses:
            named = (formataddr((service.names.get(a) or None, a)) for a in sorted(addresses))
            mail[header] = ", ".join(named)
    mail["Date"] = formatdate(localtime=True)
    domain = service.from_addr[1].rpartition("@")[2]
    own_id = f"<{message.mail_id}@{domain}>" if message.mail_id else make_msgid(domain=domain)
    mail["Message-ID"] = own_id
    mail["X-Application"] = service.app_id
    for header, value in service.headers.items():
        mail[header] = value
    # Quoted-printable keeps every byte, and every line short, on servers of whatever age.
    mail.set_content(message.story, cte="quoted-printable")
    if message.html:
        _add_page(mail, message.html, domain)
    if message.attached is not None:
        with suppress(OSError):  # the words are worth more than what comes with them
            data = message.attached.read_bytes()
            name, params = message.attached.name, {"charset": "utf-8"}
            mail.add_attachment(data, "text", "html", filename=name, params=params)
    return mail


def _add_page(mail: EmailMessage, html: str, domain: str) -> None:
    """Add the page, and beside it the pictures it holds, which mail programs show only so."""
    pictures: dict[str, bytes] = {}

    def beside(found: re.Match[str]) -> str:
        name = f"picture{len(pictures) + 1}@{domain}"
        pictures[name] = b64decode(found[1])
        return f'src="cid:{name}"'

    page = _PICTURE.sub(beside, html)
    mail.add_alternative(page, subtype="html", cte="quoted-printable")
    (*_, part) = mail.iter_parts()
    for name, png in pictures.items():
        file = name.partition("@")[0]
        part.add_related(png, "image", "png", cid=f"<{name}>", filename=f"{file}.png")


_PICTURE = re.compile(r'src="data:image/png;base64,([A-Za-z0-9+/=]+)"')


def replied(code: int) -> tuple[Outcome, str]:
    """Tell from a mail server's reply whether it refused for now or for good, and in words why."""
    if 500 <= code < 600:  # noqa: PLR2004 - permanent, by RFC 5321
        return Outcome.FAILED_FOR_GOOD, f"refused by the mail server ({code})"
    return Outcome.FAILED_FOR_NOW, f"put off by the mail server ({code})"


@contextmanager
def _connected(service: Any) -> Iterator[smtplib.SMTP]:
    """Open the way to a mail server, secured and logged in as its URL says."""
    context = ssl.create_default_context()
    if not service.verify_certificate:
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
    where = {
        "host": service.smtp_host,
        "port": service.port,
        "timeout": service.socket_connect_timeout,
    }
    secured = service.secure_mode == "ssl"
    server = smtplib.SMTP_SSL(**where, context=context) if secured else smtplib.SMTP(**where)
    try:
        if service.secure_mode == "starttls":
            server.starttls(context=context)
        if service.user and service.password:
            server.login(service.user, service.password)
        yield server
    finally:
        # What was accepted stays so, however the farewell goes.
        with suppress(OSError):
            server.quit()


def _recipients(service: Any) -> list[str]:
    return [*(address for _, address in service.targets), *service.cc, *service.bcc]
