"""The charge bar: how full, expected and planned, and where the reserve begins."""

from __future__ import annotations

from rollroute.output.itinerary import ChairFacts, Spread
from rollroute.output.words import Words

WIDTH_PT, HEIGHT_PT = 58.0, 13.0
BODY_PT = 50.0  # the rest is the knob of a battery


def charge_row(label: str, soc: Spread, reserve: float, chair: ChairFacts, words: Words) -> dict[str, object]:
    """One line of charge: the bar, then the figures in the gauge's own units."""
    planned, expected = words.gauge(soc.planned, chair), words.percent(soc.expected)
    text = words.say("{planned} planned; {expected} expected", planned=planned, expected=expected)
    alt = words.say("Charge bar, reserve {reserve}: {text}", reserve=words.percent(reserve), text=text)
    return {"label": label, "svg": charge_svg(soc, reserve), "alt": alt, "width": WIDTH_PT, "text": text}


def charge_svg(soc: Spread, reserve: float) -> str:
    """A battery lying down: filled to the planned charge, a thin mark at the expected one, the reserve as a dashed line."""
    planned, expected, low = (1.0 + min(max(share, 0.0), 1.0) * BODY_PT for share in (soc.planned, soc.expected, reserve))
    top, bottom = 1.5, HEIGHT_PT - 1.5
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_PT:g}pt" height="{HEIGHT_PT:g}pt" viewBox="0 0 {WIDTH_PT:g} {HEIGHT_PT:g}">'
        f'<path d="M1 {top}H{planned:.1f}V{bottom}H1Z" fill="#9a9a9a"/>'
        f'<path d="M1 {top}H{BODY_PT + 1:g}V{bottom}H1Z" fill="none" stroke="#000" stroke-width="1"/>'
        f'<path d="M{BODY_PT + 1.5:g} 4.5h3v4h-3Z" fill="#000"/>'
        f'<path d="M{planned:.1f} {top}V{bottom}" stroke="#000" stroke-width="3"/>'
        f'<path d="M{expected:.1f} {top}V{bottom}" stroke="#000" stroke-width="1.2"/>'
        f'<path d="M{low:.1f} 0V{HEIGHT_PT:g}" stroke="#000" stroke-width="1.2" stroke-dasharray="2.2 1.6"/></svg>'
    )
