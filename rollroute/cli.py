"""The command line: parse, call, print, exit code. No arithmetic here.

Results go to standard output, progress and errors to standard error.
Exit codes: 0 done, 1 an audit found violations, 2 bad input, 3 proven that there is no route, 4 a fact is missing, 130 stopped by Ctrl-C.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from rollroute import __version__
from rollroute.errors import NoRouteError, RollrouteError
from rollroute.move_commands import register

STOPPED = 130  # 128 + SIGINT, as shells say it (POSIX.1-2017, Shell Command Language 2.8.2: greater than 128)


class Commands(click.Group):
    """A group whose commands end with rollroute's own messages and exit codes, never with a traceback for what was foreseen."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; turn a ``RollrouteError`` into its message and exit code."""
        try:
            return super().invoke(ctx)
        except RollrouteError as error:
            click.echo(f"rollroute: {error}", err=True)
            if isinstance(error, NoRouteError):
                for reason in error.reasons:
                    click.echo(f"  reason: {reason}", err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo("rollroute: stopped. Files that were not finished are as they were before.", err=True)
            ctx.exit(STOPPED)
        except BrokenPipeError:
            raise
        except OSError as error:  # a full disk, no right to write
            name = error.filename2 or error.filename or "a file"
            click.echo(f"rollroute: {name}: {error.strerror or error}. Check the name, its rights, and the room on the disk.", err=True)
            ctx.exit(2)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="rollroute")
def main() -> None:
    """Ways for power wheelchairs in an emergency: can this chair drive it, does the battery last, and what is not known."""


def _paths(**kwargs: Any) -> Any:
    return click.Path(path_type=Path, **kwargs)


inventory_option = click.option(
    "--inventory", "inventories", nargs=2, multiple=True, type=_paths(), metavar="FILE MAPPING",
    help="A city's inventory of ramps or sidewalks (any OGR format), and a TOML file that says which column is which fact.",
)  # fmt: skip


def condition_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that describe the chair and the moment, shared by ``route`` and ``explain``."""
    options = [
        click.option("--chair", "chair_name", required=True, help="A chair file (TOML), or a bundled class such as en12184-b."),
        click.option("--at", "at_text", help="Departure: 18:40, or 2026-03-14T18:40-02:00. Now, if not given."),
        click.option("--temperature", "temperature_c", type=float, help="Degrees Celsius. A cold evening is assumed if not given."),
        click.option("--wet", "is_wet", is_flag=True, help="Rain, or water on the ground."),
        click.option("--dark", "is_dark", is_flag=True, help="No daylight."),
        click.option("--no-mains", is_flag=True, help="Mains power is off: lifts, automatic doors, lamps, sockets without a generator."),
        click.option("--alone", is_flag=True, help="Nobody walks with the chair: no street is driven on, only yards and driveways."),
        click.option("--rider-mass", "rider_mass_kg", type=float, help="Rider with clothes, kg, instead of the chair file's figure."),
        click.option("--after-storm", is_flag=True, help="Carriageways are cleared first, sidewalks and curb ramps last."),
        click.option("--standard", help="A published preset, such as prowag-2023: of its limits and the chair's the stricter counts."),
        click.option("--key", "keys", multiple=True, help="A gate or door to which you hold a key: its name, or node/ID."),
        click.option("--powered", multiple=True, help="A building whose lifts and doors have power of their own: its name, or node/ID."),
        click.option("--facts", type=_paths(), help="Facts found in the field: CSV or GeoJSON; they outrank the map."),
        inventory_option,
        click.option("--passages", type=_paths(), help="Tracks that chairs are known to have driven: GeoJSON lines, or CSV."),
        click.option(
            "--granted",
            multiple=True,
            type=click.Choice(["customers", "permit", "private", "delivery"]),
            help="Access that this rider has been given; ways with that word are then open.",
        ),
        click.option("--max-grade", type=float, help="A lower limit than 1:12, as rise over run, for example 0.06. It can't be raised."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def word_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that choose the reader's language, units and clock."""
    options = [
        click.option("--language", type=click.Choice(["en", "es"]), default="en", show_default=True),
        click.option("--units", type=click.Choice(["metric", "us"]), default="metric", show_default=True),
        click.option("--clock", type=click.Choice(["24", "12"]), default="24", show_default=True),
    ]
    for option in reversed(options):
        command = option(command)
    return command


@main.command()
@click.argument("map_file", metavar="MAP", type=_paths())
@click.option("--heights", multiple=True, type=_paths(), help="A height raster (any GDAL format). May be given several times.")
@click.option("--height-unit", type=click.Choice(["metre", "foot", "us-survey-foot"]), help="Unit of heights that do not say it.")
@click.option("--height-datum", metavar="NAME", help="Vertical datum of heights that do not name theirs, for example NAVD88.")
@click.option("--heights-of", type=click.Choice(["ground", "roofs"]), help="What the heights show, if they do not say it, or say it wrong.")
@click.option("--addresses", type=_paths(), help="Address points: CSV with street, housenumber, lat, lon.")
@inventory_option
@click.option("--out", required=True, type=_paths(), help="The network file to write.")
@click.option("--geopackage", type=_paths(), help="Also write all edges with their facts and ranks as a GeoPackage.")
def build(map_file: Path, heights: tuple[Path, ...], addresses: Path | None, out: Path, geopackage: Path | None, **asked: Any) -> None:
    """Build a network from an OpenStreetMap file and heights, and report what is known and what is not."""
    from rollroute.assembly import HeightLabels, build_from_files
    from rollroute.network.report import report_lines
    from rollroute.output.folder import put_in_place, ready_to_write

    for file in (out, *([] if geopackage is None else [geopackage])):  # told before the work, not after it
        ready_to_write(file)
    shows_roofs = None if asked["heights_of"] is None else asked["heights_of"] == "roofs"
    labels = HeightLabels(unit=asked["height_unit"], datum=asked["height_datum"], shows_roofs=shows_roofs)
    network = build_from_files(map_file, heights, labels=labels, addresses=addresses, inventories=asked["inventories"], day=_now().date())
    network.save(out)
    for line in report_lines(network):
        click.echo(line)
    if geopackage is not None:
        from rollroute.network.tables import edges

        with tempfile.TemporaryDirectory() as made:
            edges(network).to_file(Path(made) / geopackage.name, driver="GPKG", layer="edges")
            put_in_place(Path(made), geopackage.parent)
    click.echo(f"network: {out}", err=True)


@main.command()
@click.argument("network_file", metavar="NETWORK", type=_paths())
@click.option("--from", "start", required=True, metavar="PLACE", help="lat,lon, an address, a shelter, or shelter:room.")
@click.option("--to", "goal", required=True, metavar="PLACE", help="The same; a level of a building is shelter:level 1.")
@click.option("--charge", required=True, help='As the gauge shows it: "60%", "3 of 5 bars".')
@click.option("--shelters", type=_paths(), help="Shelters with their outlets: CSV, spreadsheet or GeoJSON.")
@click.option("--hazards", type=_paths(), help="Areas that close: GeoJSON.")
@click.option("--prefer", type=click.Choice(["quickest", "gentlest", "surest"]), default="surest", show_default=True)
@click.option("--start-is-no-refuge", is_flag=True, help="Nobody can come back to the start.")
@click.option("--code", help="The route's short code, instead of one made from places and time.")
@click.option("--alternatives", is_flag=True, help="Print the least charge to leave with, what more would buy, and other ways.")
@click.option("--out", required=True, type=_paths(), help="The folder to write.")
@condition_options
@word_options
def route(network_file: Path, out: Path, alternatives: bool, language: str, units: str, clock: str, **asked: Any) -> None:
    """Find the way for one rider in one chair, and write it as map, text, GeoJSON, GPX and KML."""
    from rollroute.alternatives import alternatives as other_ways
    from rollroute.assembly import Asked, find_itinerary, find_journey
    from rollroute.network.network import Network
    from rollroute.output.folder import write_route_folder
    from rollroute.output.text import summary_lines
    from rollroute.output.words import Words

    words = Words(language=language, units=units, clock=clock)
    itinerary = find_itinerary(Network.load(network_file), Asked(**asked), now=_now())
    files = write_route_folder(itinerary, out, words)
    for line in summary_lines(itinerary, words):
        click.echo(line)
    if alternatives:
        for line in other_ways(find_journey(Network.load(network_file), Asked(**asked), now=_now())):
            click.echo(line)
    click.echo(f"written: {', '.join(f.name for f in files)} in {out}", err=True)


@main.command()
@click.option("--out", type=_paths(), default=Path("maps"), show_default=True, help="The folder to write.")
@word_options
def demo(out: Path, language: str, units: str, clock: str) -> None:
    """Run the main job on the bundled invented town: build it, find two ways, write map, sheet, link and messages."""
    from rollroute.demo import run_demo
    from rollroute.output.words import Words

    for line in run_demo(out, Words(language=language, units=units, clock=clock)):
        click.echo(line)


@main.command()
@click.argument("route_dir", type=_paths())
@click.option("--out", required=True, type=_paths(), help="The PDF to write.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("--phone", help="The number to call, printed as it stands.")
@click.option("--link-address", help="Where the link page can be opened; printed as a QR code.")
@click.option("--rest-minutes", type=float, help="How often the rider wants to rest or tilt.")
@click.option("--carer-card", type=_paths(), help="A carer's card (TOML) with recorded consent; printed for that rider only.")
@word_options
def sheet(route_dir: Path, out: Path, paper: str, language: str, units: str, clock: str, carer_card: Path | None, **extras: Any) -> None:
    """Write the sheet that a volunteer follows beside the rider, as PDF."""
    from rollroute.output.carer_card import read_carer_card
    from rollroute.output.itinerary import read_itinerary
    from rollroute.output.sheet import write_sheet
    from rollroute.output.words import Words

    card = None if carer_card is None else read_carer_card(carer_card)
    words = Words(language=language, units=units, clock=clock)
    write_sheet(
        read_itinerary(route_dir), out, words=words, paper=paper, link=extras["link_address"], phone=extras["phone"],
        rest_minutes=extras["rest_minutes"], carer_card=card,
    )  # fmt: skip
    click.echo(f"written: {out}", err=True)


@main.command()
@click.argument("route_dir", type=_paths())
@click.option("--out", required=True, type=_paths(), help="The HTML file to write; a picture and a PDF go beside it.")
@click.option("--from-corner", is_flag=True, help="Begin at the first corner instead of the door.")
@click.option("--valid-until", help="A moment with its zone, for example 2026-03-14T22:00-02:00.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@word_options
def link(route_dir: Path, out: Path, from_corner: bool, valid_until: str | None, paper: str, language: str, units: str, clock: str) -> None:
    """Write the link: one small page that opens without a network, with its twins as picture and PDF."""
    from rollroute.output.itinerary import Itinerary, read_itinerary
    from rollroute.output.link import write_link
    from rollroute.output.sheet import write_sheet
    from rollroute.output.words import Words

    words = Words(language=language, units=units, clock=clock)

    def paper_twin(itinerary: Itinerary, path: Path) -> None:
        write_sheet(itinerary, path, words=words, paper=paper)

    files = write_link(read_itinerary(route_dir), out, words=words, hide_start=from_corner, valid_until=valid_until, sheet=paper_twin)
    click.echo(f"written: {', '.join(str(f) for f in files)}", err=True)


@main.command()
@click.argument("route_dir", type=_paths())
@click.option("--from-corner", is_flag=True, help="Begin at the first corner instead of the door.")
@word_options
def text(route_dir: Path, from_corner: bool, language: str, units: str, clock: str) -> None:
    """Print the route as text messages, one a line."""
    from rollroute.output.itinerary import read_itinerary
    from rollroute.output.link.corner import from_the_corner
    from rollroute.output.sms import messages
    from rollroute.output.words import Words

    words = Words(language=language, units=units, clock=clock)
    itinerary = read_itinerary(route_dir)
    for message in messages(from_the_corner(itinerary, words)[0] if from_corner else itinerary, words):
        click.echo(message)


@main.command()
@click.argument("route_dir", type=_paths())
@click.argument("replies", nargs=-1, metavar="[REPLY]...")
@click.option("--out", type=_paths(), help="The folder to write; several routes may share one. The route's own, if not given.")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), help="The last day on which these blocks count. No end, if not given.")
def hear(route_dir: Path, replies: tuple[str, ...], out: Path | None, until: dt.datetime | None) -> None:
    """Read replies from the way, and write what they say as facts and passages for later routes.

    REPLY is a code of the sheet, such as "K7 B12" (blocked at step 12), "K7 P12" (passed) or "K7 H" (help), with or without
    a time: "K7 B12 19:05". Without REPLY, one reply a line is read from standard input.
    """
    from rollroute.output.itinerary import read_itinerary
    from rollroute.output.replies import split_replies, understand
    from rollroute.output.replies_folder import FOUND, heard_before, write_heard

    itinerary = read_itinerary(route_dir)
    given = split_replies(replies or sys.stdin.read().splitlines(), itinerary, until=None if until is None else until.date())
    heard = [*heard_before(route_dir, itinerary), *given]
    said = understand(itinerary, heard)
    files = write_heard(route_dir, out or route_dir, itinerary, heard, said)
    for line in said.lines:
        click.echo(line)
    options = " ".join(f"{'--facts' if file.name == FOUND else '--passages'} {file}" for file in files)
    if options:
        click.echo(f"for the next route: {options}", err=True)


@main.command()
@click.argument("network_file", metavar="NETWORK", type=_paths())
@click.argument("place", metavar="LAT,LON|way/ID")
@condition_options
def explain(network_file: Path, place: str, **asked: Any) -> None:
    """Print everything known about the pieces at a place, who says it, and what it means for this chair."""
    from rollroute.assembly import explain_place
    from rollroute.network.network import Network

    for line in explain_place(Network.load(network_file), place, asked, now=_now()):
        click.echo(line)


def _now() -> dt.datetime:
    return dt.datetime.now().astimezone().replace(microsecond=0)


register(main)

if __name__ == "__main__":
    sys.exit(main())
