"""The second part of the coordinator's page: time line, tables of everybody and everything, links to the papers, what is proven."""

from __future__ import annotations

from collections.abc import Mapping

from markupsafe import Markup

from rollroute.output.itinerary import Itinerary
from rollroute.output.move import lanes, timeline
from rollroute.output.move.events import events
from rollroute.output.move.facts import MoveFacts, file_stems, positions_by_stop
from rollroute.output.move.first import own_power, unknown_words
from rollroute.output.move.html import bullets, folded, link, section, table, text
from rollroute.output.move.planner_words import tell
from rollroute.output.move.rolls import Rolls
from rollroute.output.move.sheets import charger_words
from rollroute.output.plain_text import plain
from rollroute.output.words.words import read_moment
from rollroute.planning.plan import RiderPlan, ShelterPlan, Tier, VanPlan

SOCKET = '<path class="tl-socket" d="M12 5v8m4-8v8"/>'


def timeline_section(facts: MoveFacts) -> Markup:
    """Riders, vans, escorts on the evening's clock; each shelter's outlets on the night's."""
    words = facts.words
    closed = [
        timeline.Closing(h.starts, f"{words.time_of_day(h.starts)} {plain(h.label, longest=60)}")
        for h in sorted(facts.move.hazards, key=lambda h: str(h.starts))
        if h.starts is not None and h.kind != "watch"
    ]
    if facts.now is not None:
        closed.append(timeline.Closing(facts.now, words.say("{time} now", time=words.time_of_day(facts.now)), is_now=True))
    groups = [
        (words.say("Riders"), lanes.rider_lanes(facts), closed),
        (words.say("Vans"), lanes.van_lanes(facts), closed),
        (words.say("Escorts"), lanes.escort_lanes(facts), closed),
    ]
    for shelter in facts.used_shelters:
        title = words.say("Outlets at {shelter}, circuit and number", shelter=plain(shelter.name))
        groups.append((title, lanes.outlet_lanes(facts, shelter), []))
    evening = timeline.Clock.over([lane for _, found, marks in groups if marks is closed for lane in found], closed)
    figures = []
    for title, found, marks in groups:
        clock = evening if marks is closed else timeline.Clock.over(found)
        figures += [] if clock is None else [_figure(title, d) for d in timeline.drawings(title, found, marks, clock, words)]
    return section("timeline", words.say("Time line"), *figures, _legend(facts) if figures else Markup(""))


def _figure(title: str, drawing: Markup) -> Markup:
    frame = '<figure><figcaption>{0}</figcaption><div class="wide" role="region" tabindex="0" aria-label="{0}">{1}</div></figure>'
    return Markup(frame).format(title, drawing)


def _legend(facts: MoveFacts) -> Markup:
    say = facts.words.say
    rows = [
        ('<path class="tl-go" d="M2 9H42"/>', say("on the way, without the rider or to the van")),
        ('<rect class="tl-stand" x="2" y="1" width="40" height="16"/>', say("loading or unloading; + and \N{MINUS SIGN} say who")),
        ('<rect class="tl-ride" x="3" y="2" width="38" height="14"/>', say("in the van")),
        ('<rect class="tl-roll" x="2" y="1" width="40" height="16"/>', say("in the own chair, with escorts")),
        (f'<rect class="tl-plug" x="3" y="2" width="38" height="14"/>{SOCKET}', say("plugged in")),
        (f'<rect class="tl-held" x="4" y="3" width="36" height="12"/>{SOCKET}', say("plugged in and kept")),
        ('<path class="tl-latest" d="M24 1v16m0-9l-8-5v10z"/>', say("latest time of this rider")),
        ('<path class="tl-closing" d="M22 0V18"/>', say("something closes")),
    ]  # fmt: skip
    items = Markup("").join(
        Markup('<li><svg viewBox="0 0 44 18" width="44" height="18" aria-hidden="true" focusable="false">{}</svg> {}</li>').format(
            Markup(drawing), words
        )
        for drawing, words in rows
    )
    return Markup('<ul class="legend">{}</ul>').format(items)


def events_section(facts: MoveFacts) -> Markup:
    """Everything in order of time, with a box to tick on paper."""
    words = facts.words
    rows = [[words.time_of_day(e.moment), e.who, e.what, Markup('<span class="box" aria-hidden="true"></span>')] for e in events(facts)]
    title = words.say("In order of time")
    return section(
        "events", title, table(title, [words.say("Time"), words.say("Who"), words.say("What"), words.say("Done")], rows, is_titled=True)
    )


def riders_section(facts: MoveFacts, rolls: Rolls) -> Markup:
    """Every rider of the table."""
    say = facts.words.say
    head = [say("Rider"), say("From"), say("How"), say("To"), say("Leaves"), say("Inside"), say("Latest"), say("With"), say("Power"),
            say("Look out")]  # fmt: skip
    title = say("Riders")
    return section("riders", title, table(title, head, (_rider(facts, r, rolls) for r in facts.plan.riders), is_titled=True))


def _rider(facts: MoveFacts, r: RiderPlan, rolls: Rolls) -> list[object]:
    words = facts.words

    def clock(moment: str | None) -> str | None:
        return words.time_of_day(moment) if moment else None

    together = [words.say("together with {riders}", riders=words.listing([plain(i) for i in r.together]))] if r.together else []
    latest = clock(r.latest)
    if latest and r.margin_min is not None:
        latest = words.say("{time}, {minutes} in hand", time=latest, minutes=words.minutes(r.margin_min * 60.0))
    return [
        r.id, facts.address(r.id), how_words(facts, r), r.shelter, clock(r.leave), clock(r.arrive), latest,
        "; ".join([*r.escorts, *together]) or None, own_power(facts, r), bullets(_look_out(facts, r, rolls)),
    ]  # fmt: skip


def how_words(facts: MoveFacts, r: RiderPlan) -> str:
    """Say how a rider goes."""
    say = facts.words.say
    how = {
        "roll": say("rolls"),
        "van": say("van {van}", van=plain(r.van)),
        "apart": say("carried down; chair in van {van}", van=plain(r.van)),
    }.get(r.way or "")
    status = {"not served": say("not served"), "declined": say("declined"), "undecided": say("not agreed yet")}.get(r.status)
    return ", ".join(part for part in (how, status, facts.happened(r.id)) if part)


def _look_out(facts: MoveFacts, r: RiderPlan, rolls: Rolls) -> list[object]:
    words, say = facts.words, facts.words.say
    notes: list[object] = []
    if r.late_min:
        notes.append(say("out {minutes} after the deadline", minutes=words.minutes(r.late_min * 60.0)))
    if r.doubt > 0:
        notes.append(say("chance that something on the way is wrong: {percent}", percent=words.percent(r.doubt)))
    if r.unverified:
        notes.append(say("not verified: {places}", places="; ".join(plain(tell(facts.words, u)) for u in r.unverified)))
    if r.retreat:
        notes.append(say("turns back to {place}", place=plain(r.retreat)))
    unknown = unknown_words(facts, r)
    if unknown and r.way:
        notes.append(Markup('<span class="screen">{}</span>').format(text(say("not known: {fields}", fields=unknown))))
    if r.id in rolls.missing:
        notes.append(say("no sheet of the way: {why}", why=plain(rolls.missing[r.id])))
    return notes


def vans_section(facts: MoveFacts) -> Markup:
    """Every van's stops."""
    words = facts.words
    unused = [v.id for v in facts.plan.vans if not v.stops]
    idle = Markup("<p>{}</p>").format(words.say("Not used: {vans}.", vans=", ".join(plain(v) for v in unused))) if unused else Markup("")
    return section("vans", words.say("Vans"), *(_van(facts, v) for v in facts.used_vans), idle)


def _van(facts: MoveFacts, van: VanPlan) -> Markup:
    words, say = facts.words, facts.words.say
    rows: list[list[object]] = []
    for n, (stop, taken) in enumerate(zip(van.stops, positions_by_stop(facts, van), strict=True), start=1):
        action = say("load") if stop.kind == "load" else say("unload")
        positions = "; ".join(words.listing([str(p) for p in t]) or say("not known") for t in taken)
        span = f"{words.time_of_day(stop.start)}–{words.time_of_day(stop.end)}"
        drive = words.minutes(stop.drive_min * 60.0)
        rows.append(
            [n, drive, words.time_of_day(stop.arrive), span, action, ", ".join(stop.riders), facts.stop_name(stop), positions, stop.aboard]
        )
    head = [say("Stop"), say("Drive"), say("Arrives"), say("At the stop"), say("Does"), say("Riders"), say("Place"), say("Positions"),
            say("Taken after")]  # fmt: skip
    return table(say("Van {code}", code=plain(van.id)), head, rows)


def escorts_section(facts: MoveFacts) -> Markup:
    """Every escort's jobs, and who is free."""
    words, say = facts.words, facts.words.say
    kinds = {"roll": say("walks along"), "to van": say("to the van"), "stairs": say("down the stairs")}
    rows = [
        [e.id, kinds.get(j.kind, j.kind), ", ".join(j.riders), *(words.time_of_day(t) for t in (j.leave, j.meet, j.end, j.back))]
        for e in facts.plan.escorts
        for j in e.jobs
    ]
    head = [say("Escort"), say("Does"), say("Riders"), say("Leaves"), say("Meets"), say("Done"), say("Back")]
    free = [e.id for e in facts.plan.escorts if not e.jobs]
    idle = Markup("<p>{}</p>").format(say("Free: {escorts}.", escorts=", ".join(plain(e) for e in free))) if free else Markup("")
    return section("escorts", say("Escorts"), table(say("Jobs of escorts"), head, rows, is_titled=True), idle)


def shelters_section(facts: MoveFacts) -> Markup:
    """Every shelter: guests, outlets, and why one is not used."""
    words = facts.words
    parts = [_shelter(facts, s) for s in facts.used_shelters]
    unused = [Markup("{}: {}").format(text(s.name), text("; ".join(tell(words, r) for r in s.reasons) or words.say("nobody is sent there")))
              for s in facts.plan.shelters if s not in facts.used_shelters]  # fmt: skip
    rest = Markup("<h3>{}</h3>{}").format(words.say("Not used"), bullets(unused)) if unused else Markup("")
    return section("shelters", words.say("Shelters"), *parts, rest)


def _shelter(facts: MoveFacts, shelter: ShelterPlan) -> Markup:
    words, say, name = facts.words, facts.words.say, plain(shelter.name)
    table_row = facts.shelter(shelter.name)
    places = table_row.accessible_places if table_row else None
    room = say("{n} of {places} accessible places", n=len(shelter.arrivals), places="?" if places is None else places)
    missing = Markup("")
    if shelter.missing_h > 0:
        line = say("Outlets are short by {hours} in all tonight.", hours=words.minutes(shelter.missing_h * 3600.0))
        missing = Markup("<p><strong>{}</strong></p>").format(line)
    heading = Markup("<h3>{}</h3><p>{}</p>").format(text(shelter.name), room)
    guests = [[words.time_of_day(facts.plan.rider(i).arrive or ""), i, how_words(facts, facts.plan.rider(i))] for i in shelter.arrivals]
    arrivals = table(say("Arrivals at {shelter}", shelter=name), [say("Inside"), say("Rider"), say("How")], guests)
    return Markup("").join([heading, missing, arrivals, *_outlets(facts, shelter)])


def _outlets(facts: MoveFacts, shelter: ShelterPlan) -> list[Markup]:
    words, say, name = facts.words, facts.words.say, plain(shelter.name)
    plugs = [
        [
            f"{plain(p.circuit)} {p.outlet}",
            p.rider,
            words.time_of_day(p.start),
            words.time_of_day(p.end),
            f"{p.watts:.0f} W",
            _kept(facts, p),
        ]
        for p in sorted(shelter.plugs, key=lambda p: (p.circuit, p.outlet, p.start))
    ]
    halts = [
        [h.rider, words.time_of_day(h.arrive), words.time_of_day(h.leave), text(h.outlet)] for h in facts.halts if h.shelter == shelter.name
    ]
    head = [say("Outlet"), say("Rider"), say("From"), say("Until"), say("Draws"), say("Charger")]
    passing = [say("Rider"), say("Arrives"), say("Leaves"), say("Outlet")]
    return [
        table(say("Outlets at {shelter}", shelter=name), head, plugs),
        table(say("Charging on the way at {shelter}", shelter=name), passing, halts),
    ]


def _kept(facts: MoveFacts, plug: object) -> str:
    rider, is_held = getattr(plug, "rider", ""), getattr(plug, "is_held", False)
    needs = facts.needs.get(rider)
    charger = charger_words(needs.rider.charger if needs else None, facts.words)
    return f"{charger}; {facts.words.say('kept all night')}" if is_held else charger


def papers_section(facts: MoveFacts, routes: Mapping[str, Itinerary]) -> Markup:
    """Links to every file, and who it is for."""
    say = facts.words.say
    vans, shelters = file_stems([v.id for v in facts.plan.vans]), file_stems([s.name for s in facts.plan.shelters])
    riders = file_stems([r.id for r in facts.plan.riders])
    rows: list[list[object]] = []
    for v in facts.used_vans:
        files = [
            (f"vans/{vans[v.id]}.pdf", say("sheet")),
            (f"vans/{vans[v.id]}.txt", say("text messages")),
            (f"manifests/van-{vans[v.id]}.csv", "CSV"),
        ]
        rows.append([say("Driver of {van}", van=plain(v.id)), _links(files)])
    for s in facts.used_shelters:
        files = [(f"shelters/{shelters[s.name]}.pdf", say("sheet")), (f"manifests/shelter-{shelters[s.name]}.csv", "CSV")]
        rows.append([say("Shelter {place}", place=plain(s.name)), _links(files)])
    for rider, route in routes.items():
        named = {
            "sheet.pdf": say("sheet"),
            "link.html": say("page to send"),
            "messages.txt": say("text messages"),
            "route.html": say("map"),
        }
        files = [(f"riders/{riders[rider]}/{file}", name) for file, name in named.items()]
        rows.append([say("Who walks with {rider}, route {code}", rider=plain(rider), code=plain(route.code)), _links(files)])
    escorts = file_stems([e.id for e in facts.plan.escorts])
    used = [e.id for e in facts.plan.escorts if e.jobs]
    for e in used:
        files = [(f"escorts/{escorts[e]}.pdf", say("sheet")), (f"escorts/{escorts[e]}.txt", say("text messages"))]
        rows.append([say("Escort {code}", code=plain(e)), _links(files)])
    rows.append([say("Coordinator"), _links(_own_files(facts))])
    title = say("Papers to hand out")
    note = say("This page says who depends on power: keep it with the coordinator, and give everybody else only their own sheet.")
    return section("papers", title, Markup("<p>{}</p>").format(note), table(title, [say("For"), say("Files")], rows, is_titled=True))


def _own_files(facts: MoveFacts) -> list[tuple[str, str]]:
    say = facts.words.say
    return [
        ("move-map.html", say("map of everything")),
        ("plan.xlsx", say("workbook")),
        ("manifests/riders.csv", say("riders, CSV")),
        ("manifests/escorts.csv", say("escorts, CSV")),
        ("manifests/outlets.csv", say("outlets, CSV")),
        ("plan.gpkg", "GeoPackage"),
        ("plan.json", "plan.json"),
    ]


def _links(files: list[tuple[str, str]]) -> Markup:
    return Markup(" · ").join(link(address, words) for address, words in files)


def proof_section(facts: MoveFacts) -> Markup:
    """What the plan was judged by, how far that is proven, and what it rests on."""
    say, plan = facts.words.say, facts.plan
    head = [say("In this order"), say("This plan"), say("Cannot be less than"), say("Proven best")]
    rows = [[tell(facts.words, t.name), t.value, t.bound, _proven(facts, t)] for t in plan.tiers]
    basis = say(
        "Estimates: {basis}. A plan is as good as its estimates; proofs hold given them.",
        basis=plain(tell(facts.words, str(plan.move.get("basis", "")))),
    )
    lines = [basis, *(tell(facts.words, claim) for claim in plan.claims), *facts.travel.notes]
    title = say("How good this plan is")
    return section(
        "proof",
        title,
        table(title, head, rows, is_titled=True),
        bullets(lines),
        folded(say("How it was made"), _how(facts), is_printed=False),
    )


def _how(facts: MoveFacts) -> Markup:
    plan = facts.plan
    files = [f"{name}: {digest}" for name, digest in dict(plan.move.get("inputs") or {}).items()]
    return bullets([_made(facts), plan.command or None, *files])


def _made(facts: MoveFacts) -> str | None:
    """When the papers were made, where somebody has said so."""
    if not facts.is_stamped:
        return None
    words = facts.words
    return words.say("Made on {date} at {time}", date=words.date(facts.made_at), time=words.time_of_day(facts.made_at))


def _proven(facts: MoveFacts, tier: Tier) -> str:
    return facts.words.say("yes") if tier.is_proven else facts.words.say("no")


def start_words(facts: MoveFacts) -> str:
    """Say when the move starts, and when its papers were made: of two on the table, the later one counts."""
    start = str(facts.plan.move.get("start") or facts.made_at)
    starts = facts.words.say("Starts on {date} at {time}", date=facts.words.date(read_moment(start)), time=facts.words.time_of_day(start))
    return " · ".join(part for part in (starts, _made(facts)) if part)
