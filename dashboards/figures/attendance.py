"""No-shows week by week in a control chart, by lead time, and by what became of the reminder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import plotly.graph_objects as go

from dashboards.figures.look import BLUE, GREY, VERMILLION, counted, day, figure, nothing
from dashboards.figures.shares import dots, percent
from dashboards.read_models.practice_rows import LEADS, Attendance, AttendancePart, GroupAttendance, group_of

SHORT, LONG = 7, 14   # days before: visits booked within the week against those booked a fortnight or more before
SPAN = 92   # pixels around the lines of a lying chart
FATES = {
    "sent": "Sent", "not_sent": "Not sent, with a reason", "failed": "Failed", "none": "None",
}


def lead_word(code: str) -> str:
    """`0 to 1 days`, `28 days or more`."""
    first, last = LEADS[int(code)]
    return f"{first} to {last} days" if last is not None else f"{first} days or more"


LEAD_WORDS = {str(place): f"{lead_word(str(place))} before" for place in range(len(LEADS))}


def control(part: AttendancePart) -> go.Figure:
    """The share of no-shows of each week between the limits that chance alone would keep it in."""
    if part.centre is None:
        return nothing("No visit has come to an end yet")
    weeks = [week for week in part.weeks if week.share is not None]
    xs = [f"{week.monday}" for week in weeks]
    fig = figure(control_title(part), height=340)
    for name, limits in (("Upper limit", [week.high for week in weeks]), ("Lower limit", [week.low for week in weeks])):
        fig.add_scatter(
            x=xs, y=_hundred(limits), mode="lines", name=name,
            line={"color": GREY, "width": 1.5, "dash": "dash", "shape": "hvh"},
            hovertemplate=f"Week of %{{x|%-d %b}}: {name.lower()} %{{y:.0f}} %<extra></extra>",
        )
    fig.add_scatter(
        x=[xs[0], xs[-1]], y=_hundred([part.centre] * 2), mode="lines", name="All weeks together",
        line={"color": BLUE, "width": 1.5}, hovertemplate="All weeks together: %{y:.1f} %<extra></extra>",
    )
    for name, outside in (("Week", False), ("Week outside the limits", True)):
        some = [week for week in weeks if bool(week.signal) == outside]
        if some:
            fig.add_scatter(
                x=[f"{week.monday}" for week in some], y=_hundred([week.share for week in some]), mode="markers", name=name,
                marker={"symbol": "diamond" if outside else "circle", "size": 13 if outside else 9,
                        "color": VERMILLION if outside else BLUE},
                customdata=[[week.seen.missed, week.seen.expected] for week in some], meta=["No-shows", "Expected"],
                hovertemplate="Week of %{x|%-d %b}: %{customdata[0]} of %{customdata[1]} did not come<extra></extra>",
            )
    fig.update_yaxes(title="No-shows, %", rangemode="tozero")
    fig.update_xaxes(type="date", tickformat="%-d %b", nticks=8, tickangle=0, showgrid=False)
    return fig


def _hundred(shares: Sequence[float | None]) -> list[float | None]:
    return [None if share is None else round(100 * share, 2) for share in shares]


def control_title(part: AttendancePart) -> str:
    """The share of all weeks, and which weeks stand out."""
    if part.centre is None:
        return "No visit has come to an end yet"
    out = [week for week in part.weeks if week.signal]
    begin = f"{percent(part.centre)} of the visits were no-shows"
    if not out:
        return f"{begin}; no week stands out"
    if len(out) > 3:
        return f"{begin}; {len(out)} weeks stand out"
    names = " and ".join(f"that of {day(week.monday)} ({'more' if week.signal > 0 else 'fewer'})" for week in out)
    return f"{begin}; {counted(len(out), 'week')} {'stands' if len(out) == 1 else 'stand'} out: {names}"


def leads(part: AttendancePart) -> go.Figure:
    """No-shows by how long before the visit was booked."""
    return _dots(part.leads, LEAD_WORDS, leads_title(part.leads), "No visit has come to an end yet")


def leads_title(groups: Sequence[GroupAttendance]) -> str:
    """Whether visits booked long before are missed more often; says so only where the 95 % intervals lie apart."""
    if not any(group.seen.expected for group in groups):
        return "No visit has come to an end yet"
    early = _together(group for group in groups if LEADS[int(group.code)][0] < SHORT)
    late = _together(group for group in groups if LEADS[int(group.code)][0] >= LONG)
    if early.interval is None or late.interval is None:
        return f"Too few visits booked {'within a week' if early.interval is None else 'long before'} to compare"
    apart = int(late.interval[0] > early.interval[1]) - int(late.interval[1] < early.interval[0])
    if not apart:
        return "No difference to be seen by how long before a visit was booked"
    return (
        f"Visits booked {LONG} days or more before are missed {'more' if apart > 0 else 'less'} often than those of the last "
        f"week: {percent(late.share or 0.0)} against {percent(early.share or 0.0)}"
    )


def _together(groups: Iterable[GroupAttendance]) -> GroupAttendance:
    seen = sum((group.seen for group in groups), Attendance())
    return group_of("", seen)


def reminders(groups: Sequence[GroupAttendance]) -> go.Figure:
    """No-shows by what became of the reminder."""
    return _dots(groups, FATES, reminders_title(groups), "No visit in the last 28 days")


def reminders_title(groups: Sequence[GroupAttendance]) -> str:
    """How many of the visits had a reminder that went out."""
    whole = sum(group.seen.expected for group in groups)
    sent = next((group.seen.expected for group in groups if group.code == "sent"), 0)
    if not whole:
        return "No visit in the last 28 days"
    return f"A reminder went out for {sent} of {counted(whole, 'visit')} in 28 days"


def _dots(groups: Sequence[GroupAttendance], words: Mapping[str, str], title: str, empty: str) -> go.Figure:
    """A line a group: the share with its 95 % interval; nothing stands where nobody was expected."""
    known = [group for group in groups if group.interval]
    if not known:
        return nothing(empty)
    fig = figure(title, height=SPAN + 46 * len(groups))
    fig.add_scatter(
        name="No-shows", mode="markers",
        hovertemplate="%{y}: %{customdata[0]} of %{customdata[1]} did not come, 95 % interval "
        "%{customdata[2]}<extra></extra>",
        **dots([
            (words[group.code], group.seen.missed, group.seen.expected, group.interval) for group in known if group.interval
        ]),
    )
    fig.update_yaxes(
        type="category", categoryorder="array", categoryarray=[words[group.code] for group in groups][::-1], showgrid=False,
        range=[-0.6, len(groups) - 0.4],
    )
    fig.update_xaxes(title="No-shows, %", rangemode="tozero", nticks=6)
    return fig
