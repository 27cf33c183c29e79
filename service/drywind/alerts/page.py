"""The page of an e-mail: the parts of a message as HTML that any mail program shows on a phone.

Styles stand in each element, because many programs strip all others; nothing is fetched from
anywhere. Every bar has its figure beside it, and what is over or advised says so in words, so that
neither color nor bars are needed to read it.
"""

from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from drywind.alerts.parts import Curve, CurveDay, Headline, Lines, Paragraph, Part, Picture, Row

INK, FAINT, PAPER, GROUND = "#231f1a", "#5c554b", "#ffffff", "#ece7dd"
RULE, TRACK, MOIST, LOST = "#cfc8ba", "#efebe3", "#4d7a86", "#8a2f16"
ALARM, CALM, ADVISED = "#7c2b14", "#2c5740", "#f3e9c9"

BODY = f"margin:0;padding:0;background:{GROUND};color:{INK}"
SHEET = (
    f"max-width:600px;margin:0 auto;background:{PAPER};color:{INK};"
    "font:16px/1.45 Georgia,'Times New Roman',serif"
)
TABLE = "width:100%;border-collapse:collapse;text-align:left;font-size:15px;line-height:1.35"
CELL = f"padding:7px 6px;border-bottom:1px solid {RULE};vertical-align:top"
NAME = f"{CELL};font-weight:normal"
NOTE = f"font-size:14px;color:{FAINT}"


def page(title: str, parts: Sequence[Part]) -> str:
    """Write the parts as a page, which is well-formed XML as well."""
    inner = "\n".join(block for part in parts for block in _blocks(part))
    return (
        "<!DOCTYPE html>\n"
        '<html lang="en"><head><meta charset="utf-8"/>'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>'
        f"<title>{escape(title)}</title></head>\n"
        f'<body style="{BODY}"><div style="{SHEET}">\n{inner}\n'
        '<div style="height:18px"></div></div></body></html>\n'
    )


def _blocks(part: Part) -> Iterator[str]:
    match part:
        case Headline():
            yield from _headline(part)
        case Paragraph(text=text):
            yield _paragraph(text)
        case Lines():
            yield from _lines(part)
        case Curve():
            yield from _curve(part)
        case Picture():
            yield _picture(part)


def _headline(part: Headline) -> Iterator[str]:
    color = CALM if part.calm else ALARM
    yield (
        f'<div style="background:{color};color:{PAPER};padding:18px 16px 20px">'
        f'<div style="font-size:15px">{escape(part.about)}</div>'
        f'<h1 style="margin:6px 0 0;font-size:26px;line-height:1.2">{escape(part.advice)}</h1>'
        "</div>"
    )
    yield _table(
        f'<tr><th scope="row" style="{NAME};width:76px;color:{FAINT}">{escape(name)}</th>'
        f'<td style="{CELL};font-size:16px">{escape(words)}</td></tr>'
        for name, words in part.facts
    )


def _paragraph(text: str) -> str:
    words = escape(text).replace("\n", "<br/>")
    return f'<p style="margin:14px 16px 0">{words}</p>'


def _picture(part: Picture) -> str:
    """Return a picture that the page carries in itself; a mail carries it beside the page."""
    shows, data = escape(part.shows), b64encode(part.png).decode()
    return (
        f'<p style="margin:16px 10px 0"><img src="data:image/png;base64,{data}" alt="{shows}"'
        ' width="580" style="width:100%;height:auto;display:block"/></p>'
    )


def _head(text: str) -> str:
    return f'<h2 style="margin:24px 16px 0;font-size:17px;line-height:1.3">{escape(text)}</h2>'


def _lines(part: Lines) -> Iterator[str]:
    if part.head:
        yield _head(part.head)
    yield _typed(part.rows) if part.typed else _table(map(_row, part.rows))
    if part.after:
        yield _paragraph(part.after)


def _typed(rows: Sequence[Row]) -> str:
    lines = "".join(
        f'<div style="padding-left:14px;text-indent:-14px">{escape(row.name)}</div>' for row in rows
    )
    return (
        f'<div style="margin:8px 16px 0;padding:10px;background:{TRACK};'
        f'font:13px/1.6 Consolas,Menlo,monospace">{lines}</div>'
    )


def _row(row: Row) -> str:
    name, ground = escape(row.name), ""
    if row.advised:
        name, ground = f"<b>Do this: {name}</b>", f";background:{ADVISED}"
    told = f'<td style="{CELL}{ground}">{escape(row.told)}</td>' if row.told else ""
    return f'<tr><th scope="row" style="{NAME}{ground};width:42%">{name}</th>{told}</tr>'


def _curve(part: Curve) -> Iterator[str]:
    names = ["day", *part.boards, "lost"]
    heads = "".join(
        f'<th scope="col" style="{NAME};color:{FAINT}">{escape(name)}</th>' for name in names
    )
    turn = (
        f'<tr><td colspan="{len(names)}" style="{CELL};background:{TRACK};font-size:14px">'
        "from here on by the forecast</td></tr>"
    )
    first = next((day for day in part.days if day.ahead), None)
    rows = (f"{turn if day is first else ''}{_day(day)}" for day in part.days)
    yield _head(part.head)
    yield _table([f"<tr>{heads}</tr>", *rows])
    yield f'<p style="margin:8px 16px 0;{NOTE}">{escape(part.note)}</p>'


def _day(day: CurveDay) -> str:
    cells = "".join(
        f'<td style="{CELL};width:17%">{escape(bar.words)}{_bar(bar.share, MOIST)}</td>'
        for bar in day.mc
    )
    return (
        f'<tr><th scope="row" style="{NAME};white-space:nowrap">{escape(day.name)}</th>{cells}'
        f'<td style="{CELL}">{_lost(day)}</td></tr>'
    )


def _lost(day: CurveDay) -> str:
    loss, safe = escape(day.loss.words), escape(day.safe.words)
    told = f"<b>{loss}, over</b>" if day.over else loss
    return f"{told}{_bar(day.loss.share, LOST)}{safe}{_bar(day.safe.share, PAPER)}"


def _bar(share: float, color: str) -> str:
    """Return a bar of a share of its cell, with an edge that shows where its color does not."""
    if not share:
        return ""
    return (
        f'<div style="width:{100 * share:.0f}%;height:6px;margin:2px 0 3px;font-size:0;'
        f'line-height:0;box-sizing:border-box;border:1px solid {INK};background:{color}"></div>'
    )


def _table(rows: Iterable[str]) -> str:
    return f'<div style="margin:8px 10px 0"><table style="{TABLE}">{"".join(rows)}</table></div>'
