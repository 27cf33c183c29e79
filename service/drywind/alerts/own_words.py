"""Words that no pass can put in the outbox, because there is none; written without numbers."""

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Paragraph, Part, plain
from drywind.alerts.records import Message


def clock_words(yard: str, detail: str) -> Message:
    """Return the words on a clock that is wrong, or cannot be known to be right."""
    head = f"drywind at {yard}: its computer's clock seems wrong"
    care = "Look at the stacks yourself. Check its internet, set its clock, start it again."
    return _urgent(head, care, detail)


def standstill_words(yard: str, detail: str) -> Message:
    """Return the words on passes that fail again and again."""
    head = f"drywind at {yard} stands still, no stack is watched"
    care = "Look at the stacks yourself. On its computer: drywind watch --once --dry-run"
    return _urgent(head, care, detail)


def _urgent(head: str, care: str, detail: str) -> Message:
    text = first_that_fits([f"{head}. {care}", f"{head}. Look at the stacks."])
    return own_message(text, head, care, f"What it says: {detail}.")


def own_message(text: str, subject: str, do: str, *told: str) -> Message:
    """Return a message on drywind itself: what to do, and what is told of it."""
    parts: list[Part] = [
        Headline(text, subject, do),
        *map(Paragraph, told),
        Paragraph("You hear no more of this until it is mended and comes again."),
    ]
    return Message(subject, text, plain(parts), page(subject, parts))
