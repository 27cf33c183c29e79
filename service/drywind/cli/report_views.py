"""The page of a yard as a plain dictionary, for `--json`.

Keys are a contract: units stand in them, what is unknown is None.
"""

from drywind.cli.records import Json
from drywind.clock import iso
from drywind.report.record import PlaceAhead, StackCurve, StackSheet, YardSheet


def sheet_json(sheet: YardSheet) -> Json:
    """Return what stands on the page."""
    return {
        "yard": sheet.yard,
        "now": iso(sheet.reader.now),
        "today": [sheet.head, *sheet.rest],
        "work": [
            {
                "subject": task.subject,
                "site": task.about,
                "do": task.do,
                "why": task.why,
                "by": iso(task.by) if task.by else None,
            }
            for task in sheet.tasks
        ],
        "places": [_place(place) for place in sheet.places],
        "stacks": [_stack(stack) for stack in sheet.stacks],
        "lots": [
            {"id": lot.name, "about": lot.about, "state": lot.state, "told": lot.told}
            for lot in sheet.lots
        ],
        "weather": [
            {
                "sites": sight.sites,
                "source": sight.source or None,
                "issued_at": iso(sight.issued_at) if sight.issued_at else None,
                "error": sight.trouble or None,
            }
            for sight in sheet.health.sights
        ],
        "contacts": [
            {
                "name": reach.name,
                "kind": reach.kind,
                "last_at": iso(reach.at) if reach.at else None,
                "last_outcome": reach.outcome or None,
            }
            for reach in sheet.health.reach
        ],
        "backup_at": iso(sheet.health.backup_at) if sheet.health.backup_at else None,
    }


def _place(place: PlaceAhead) -> Json:
    return {
        "start": iso(place.start),
        "drying_mm_per_h": {site.name: list(site.drying_mm) for site in place.sites},
        "emc_pct": list(place.emc_pct),
        "wind_ms": list(place.wind_ms),
        "rain_mm": list(place.rain_mm),
        "sun_wm2": list(place.sun_wm2),
        "days": [
            {
                "date": day.date.isoformat(),
                "word": day.word,
                "high_c": day.high_c,
                "low_c": day.low_c,
                "low_rh_pct": None if day.low_rh is None else round(100 * day.low_rh),
                "wind_ms": day.wind_ms,
                "rain_mm": day.rain_mm,
                "sun_kwh_m2": day.sun_kwh,
                "emc_pct": day.emc_pct,
            }
            for day in place.days
        ],
    }


def _stack(stack: StackSheet) -> Json:
    return {
        "id": stack.name,
        "wood": stack.wood,
        "site": stack.site,
        "state": stack.state,
        "told": stack.head,
        "mc_pct": stack.mc_pct,
        "severity": stack.pace,
        "curve": None if stack.curve is None else _curve(stack.curve),
    }


def _curve(curve: StackCurve) -> Json:
    return {
        "times": [iso(at) for at in curve.times],
        "safe_pace_mc_pct": list(curve.pace_pct),
        "boards": {
            line.board: {
                "mc_pct": list(line.mc_pct),
                "low_mc_pct": list(line.low_pct),
                "high_mc_pct": list(line.high_pct),
            }
            for line in curve.lines
        },
    }
