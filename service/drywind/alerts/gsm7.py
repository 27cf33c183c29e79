"""The character set of a text message: one stray character cuts 160 to 70."""

BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""GSM 03.38 default alphabet (ETSI TS 123 038, table 6.2.1; from memory)."""

EXTENDED = frozenset("^{}\\[~]|€")
"""Characters that cost two places."""

LONGEST = 160
TWO_PARTS = 2 * 153
"""Of a text sent in parts each holds less: its number takes seven places."""


def septets(text: str) -> int:
    """Return how many of the 160 places a text takes.

    Raises
    ------
    ValueError
        If a character is not in the alphabet, which would cut the text to 70.
    """
    foreign = {c for c in text if c not in BASIC and c not in EXTENDED}
    if foreign:
        raise ValueError(f"not in the GSM-7 alphabet: {sorted(foreign)}")
    return len(text) + sum(c in EXTENDED for c in text)


def plain(text: str) -> str:
    """Return the text with every character outside the alphabet turned into a question mark."""
    return "".join(c if c in BASIC or c in EXTENDED else "?" for c in text)


def first_that_fits(candidates: list[str], longest: int = LONGEST) -> str:
    """Return the first text that fits one message, else the last one cut short."""
    cleaned = [plain(c) for c in candidates]
    for text in cleaned:
        if septets(text) <= longest:
            return text
    last = cleaned[-1]
    while septets(last) > longest - 1:
        last = last[:-1]
    return last.rstrip() + "."
