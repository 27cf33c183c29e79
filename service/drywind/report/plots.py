"""Plots for e-mails and files. matplotlib is imported where it is needed: it takes a second."""

from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from drywind.errors import StoreError
from drywind.report.look import COLORS, DASHES, GROUND, INK, PALE, STYLE
from drywind.report.record import StackCurve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FILE_IN, PHONE_IN = (6.4, 4.2), (4.2, 3.4)
"""Sizes: for a sheet of paper, and for a mail on a phone, where words must stay large."""
DPI = 150
COLORS_IN_MAIL = 48
"""Few, as a mail is kept in the outbox, and phones pay by the byte."""
HEADROOM = 1.12
BOARDS = ("typical", "edge", "top")


def save_plot(curve: StackCurve, zone: ZoneInfo, title: str, path: Path) -> None:
    """Write the plot of a stack to a file, as its name says as PNG or SVG.

    Raises
    ------
    StoreError
        If it cannot be written.
    """
    data = stack_picture(curve, zone, title, path.suffix.lower().removeprefix("."))
    try:
        path.write_bytes(data)
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}") from error


def stack_picture(
    curve: StackCurve,
    zone: ZoneInfo,
    title: str,
    form: str,
    size_in: tuple[float, float] = FILE_IN,
) -> bytes:
    """Return the plot of a stack as "svg" or "png"; the same curve gives the same bytes."""
    from matplotlib import rc_context  # noqa: PLC0415

    with rc_context(STYLE):
        figure = _figure(curve, zone, title, size_in)
        buffer = BytesIO()
        metadata = {"Date": None, "Creator": None} if form == "svg" else {"Software": None}
        figure.savefig(buffer, format=form, dpi=DPI, metadata=metadata)
    return buffer.getvalue()


def mail_picture(curve: StackCurve, zone: ZoneInfo, title: str) -> bytes:
    """Return the plot of a stack for a mail: PNG, which mail programs show, in few colors."""
    from PIL import Image  # noqa: PLC0415 - matplotlib brings it

    buffer = BytesIO()
    picture = Image.open(BytesIO(stack_picture(curve, zone, title, "png", PHONE_IN)))
    picture.convert("RGB").quantize(COLORS_IN_MAIL).save(buffer, "png", optimize=True)
    return buffer.getvalue()


def _figure(
    curve: StackCurve, zone: ZoneInfo, title: str, size_in: tuple[float, float]
) -> "Figure":
    from matplotlib.dates import AutoDateLocator, DateFormatter  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.ticker import MaxNLocator  # noqa: PLC0415

    figure = Figure(figsize=size_in, layout="constrained")
    moist, lost = figure.subplots(2, 1, sharex=True, height_ratios=[3, 1])
    moist.set_title(_plain(title), loc="left")
    _moisture(moist, curve)
    _losses(lost, curve)
    for axes in (moist, lost):
        if curve.now < curve.times[-1]:
            axes.axvspan(_days(curve.now), _days(curve.times[-1]), color=GROUND, zorder=0)
            axes.axvline(_days(curve.now), color=INK, linewidth=0.8)
        for start, end in curve.gaps:
            axes.axvspan(
                *(_days(start), _days(end)),
                facecolor="none",
                edgecolor=PALE,
                hatch="////",
                linewidth=0.0,
            )
    locator = AutoDateLocator(tz=zone, maxticks=6)  # type: ignore[no-untyped-call]
    lost.xaxis.set_major_locator(locator)
    lost.xaxis.set_major_formatter(DateFormatter("%b %-d", tz=zone))  # type: ignore[no-untyped-call]
    moist.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10], integer=True))
    lost.set_xlim(_days(curve.times[0]), _days(curve.times[-1]))
    return figure


def _moisture(axes: "Axes", curve: StackCurve) -> None:
    times = [_days(at) for at in curve.times]
    for line in curve.lines:
        at = BOARDS.index(line.board)
        look: dict[str, Any] = {"color": COLORS[at], "linestyle": DASHES[at]}
        axes.plot(times, _numbers(line.mc_pct), label=f"{line.board} board", **look)
        if any(v is not None for v in line.low_pct):
            low, high = _numbers(line.low_pct), _numbers(line.high_pct)
            axes.fill_between(times, low, high, color=COLORS[at], alpha=0.2, linewidth=0.0)
    axes.plot(times, _numbers(curve.pace_pct), ":", color=INK, linewidth=1.0, label="safe pace")
    if curve.readings:
        axes.plot(
            [_days(r.at) for r in curve.readings],
            [r.mc_pct for r in curve.readings],
            "D",
            color=INK,
            label="weighed or metered",
        )
    for number, entry in enumerate(curve.entries, start=1):
        if entry.at >= curve.times[0]:
            axes.annotate(
                str(number),
                (_days(entry.at), 1.0),
                xycoords=("data", "axes fraction"),
                ha="center",
                va="top",
                fontsize=7,
            )
    axes.set_ylabel("moisture content (%)")
    axes.legend(loc="best", ncols=2)


def _losses(axes: "Axes", curve: StackCurve) -> None:
    for day in curve.days:
        left, right = _days(day.start), _days(day.end)
        width = right - left
        if day.loss_pct is not None:
            look: dict[str, Any] = {"color": COLORS[1] if day.over else PALE}
            look |= {"hatch": "///", "edgecolor": "white"} if day.over else {}
            axes.bar(left + width / 2, max(day.loss_pct, 0.0), 0.76 * width, **look)
    top = HEADROOM * (curve.most_lost_pct or 1.0)
    for day in curve.days:
        if day.safe_pct is not None and day.safe_pct <= top:
            axes.plot([_days(day.start), _days(day.end)], [day.safe_pct] * 2, color=INK)
    axes.set_ylim(0.0, top)
    axes.set_ylabel("points lost\na day; safe")


def _days(at: datetime) -> float:
    """Return an instant as matplotlib counts time: in days since 1970."""
    return at.timestamp() / 86400.0


def _numbers(values: tuple[float | None, ...]) -> list[float]:
    return [float("nan") if value is None else value for value in values]


def _plain(title: str) -> str:
    """Keep matplotlib from reading formulas into a name."""
    return title.replace("$", r"\$")
