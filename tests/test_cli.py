"""The command line: spellings that others script against, exit codes, and nothing lost by a failed command."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rollroute.cli import main
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network

TOWN = data_dir() / "quillhaven"


@pytest.fixture(scope="session")
def town_net(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("net") / "town.net"
    quillhaven.save(path)
    return path


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def _route(net: Path, out: Path, **changes: str) -> Result:
    options = {
        "--from": "11 Larkmount Road",
        "--to": "North Quay School",
        "--chair": str(TOWN / "demo-chair.toml"),
        "--charge": "4 of 5 bars",
        "--shelters": str(TOWN / "shelters.csv"),
        "--at": "2026-03-14T18:40-02:00",
        "--temperature": "6",
    } | {f"--{k.replace('_', '-')}": v for k, v in changes.items()}
    return _run("route", net, "--out", out, *(word for pair in options.items() for word in pair))


def test_every_command_says_what_it_does() -> None:
    """Help is what a tired dispatcher has at night."""
    for name, command in main.commands.items():
        assert command.help, name
        result = _run(name, "--help")
        assert result.exit_code == 0, name
        assert command.help.split(".")[0][:40] in " ".join(result.output.split()), name


def test_a_route_is_written_whole_and_summed_up(town_net: Path, tmp_path: Path) -> None:
    """Exit code 0, all files, and both cases in the summary."""
    result = _route(town_net, tmp_path / "route")
    assert result.exit_code == 0, result.output
    assert {p.name for p in (tmp_path / "route").iterdir()} == {f"route.{e}" for e in ("json", "html", "geojson", "gpx", "kml", "txt")}
    assert "expected" in result.output
    assert "planned" in result.output
    assert "The rider decides" in result.output
    features = json.loads((tmp_path / "route" / "route.geojson").read_text(encoding="utf-8"))["features"]
    assert len(features) > 20


def test_sheet_link_and_messages_come_from_the_folder_alone(town_net: Path, tmp_path: Path) -> None:
    """Paper and link are made later, without the network."""
    folder = tmp_path / "route"
    assert _route(town_net, folder).exit_code == 0
    assert _run("sheet", folder, "--out", tmp_path / "s.pdf", "--paper", "letter", "--language", "es", "--units", "us").exit_code == 0
    assert _run("link", folder, "--out", tmp_path / "l.html", "--from-corner").exit_code == 0
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    assert {"l.html", "l.png", "l.pdf"} <= {p.name for p in tmp_path.iterdir()}
    messages = _run("text", folder).output.splitlines()
    assert messages
    assert all(len(m) <= 160 for m in messages)


@pytest.mark.parametrize(
    ("changes", "code", "told"),
    [
        ({"from": "11 Larkmont Road"}, 2, "Did you mean Larkmount Road"),
        ({"charge": "0.6"}, 2, "charge"),
        ({"chair": "no-such-chair"}, 2, "en12184-b"),
        ({"at": "soon"}, 2, "18:40"),
        ({"max_grade": "0.12"}, 2, "1:12"),
        ({"standard": "nobody-1999"}, 2, "nobody-1999"),
        ({"charge": "1 of 5 bars"}, 4, "reserve"),
        ({"charge": "35%"}, 3, "reason"),
        ({"to": "10.0,10.0"}, 2, "150 m"),
        ({"from": "-37.3004,45.2011"}, 2, "are the two swapped?"),
        ({"to": "11 Larkmount Road"}, 2, "both lie at one spot"),
        ({"key": "Mill Gaet"}, 2, "no gate or door of that name"),  # its gate would count as locked without a word
        ({"key": "node/1"}, 2, "no gate or door of that name"),
    ],
)
def test_a_failed_route_says_why_with_its_own_code_and_leaves_earlier_files(
    town_net: Path, tmp_path: Path, changes: dict[str, str], code: int, told: str
) -> None:
    """What, where, value, remedy; no traceback; yesterday's route stays."""
    earlier = tmp_path / "route" / "route.txt"
    earlier.parent.mkdir()
    earlier.write_text("yesterday", encoding="utf-8")
    result = _route(town_net, tmp_path / "route", **changes)
    assert result.exit_code == code, result.output
    assert told in result.output
    assert "Traceback" not in result.output
    assert [p.name for p in earlier.parent.iterdir()] == ["route.txt"]
    assert earlier.read_text(encoding="utf-8") == "yesterday"


def test_a_field_fact_closes_a_way_that_the_map_left_open(town_net: Path, tmp_path: Path) -> None:
    """Somebody measured a kerb of 12 cm on the way: the next route does not go over it."""
    assert _route(town_net, tmp_path / "first").exit_code == 0
    first = json.loads((tmp_path / "first" / "route.json").read_text(encoding="utf-8"))
    kerb = next(q for q in first["questions"] if q["kind"] == "kerb" and q["is_weakest"])
    facts = tmp_path / "facts.csv"
    facts.write_text(f"lat,lon,fact,value,unit,date\n{kerb['lat']},{kerb['lon']},kerb_height,12,cm,2026-03-14\n", encoding="utf-8")
    result = _route(town_net, tmp_path / "second", facts=str(facts))
    assert result.exit_code == 0, result.output
    second = json.loads((tmp_path / "second" / "route.json").read_text(encoding="utf-8"))
    assert all((q["lon"], q["lat"]) != (kerb["lon"], kerb["lat"]) for q in second["questions"])


def test_build_reports_what_it_did_not_understand(tmp_path: Path) -> None:
    """The planted dirty values of the town are listed with where they stand."""
    result = _run("build", TOWN / "town.osm.pbf", "--heights", TOWN / "heights.tif", "--out", tmp_path / "t.net")
    assert result.exit_code == 0, result.output
    assert "incline=steep" in result.output
    assert "kerbs:" in result.output
    assert Network.load(tmp_path / "t.net").n_pieces > 5000


def test_an_inventory_of_ramps_is_laid_over_the_map_as_a_survey(town_net: Path, tmp_path: Path) -> None:
    """A city that measured its kerbs answers the question: 12 in is over what the chair can take, so that place is not driven."""
    import geopandas as gpd
    from shapely import Point

    first = _route(town_net, tmp_path / "first")
    assert first.exit_code == 0
    asked = json.loads((tmp_path / "first" / "route.json").read_text(encoding="utf-8"))["questions"]
    kerb = next(q for q in asked if q["kind"] == "kerb" and q["is_weakest"])
    table = gpd.GeoDataFrame({"LIP_IN": [12.0]}, geometry=[Point(kerb["lon"], kerb["lat"])], crs=4326)
    table.to_file(tmp_path / "ramps.gpkg", driver="GPKG")
    rule = '[[fact]]\nfact = "kerb_height"\ncolumn = "LIP_IN"\nunit = "in"\n'
    (tmp_path / "map.toml").write_text(f'source = "ramps"\n{rule}', encoding="utf-8")
    where = f"{kerb['lat']},{kerb['lon']}"
    options = ["--chair", str(TOWN / "demo-chair.toml"), "--at", "2026-03-14T18:40-02:00"]
    before = _run("explain", str(town_net), where, *options)
    after = _run("explain", str(town_net), where, *options, "--inventory", str(tmp_path / "ramps.gpkg"), str(tmp_path / "map.toml"))
    assert (before.exit_code, after.exit_code) == (0, 0)
    assert "survey" in after.stdout
    assert after.stdout.count("survey") > before.stdout.count("survey")
    wrong = _run("explain", str(town_net), where, *options, "--inventory", str(tmp_path / "map.toml"), str(tmp_path / "ramps.gpkg"))
    assert wrong.exit_code == 2


def test_explain_names_facts_ranks_and_verdicts(town_net: Path) -> None:
    """A coordinator can ask of any piece what is known, and who says so."""
    result = _run("explain", town_net, "45.20144,-37.29588", "--chair", "en12184-b")
    assert result.exit_code == 0, result.output
    for word in ("width", "surface", "grade", "forward", "backward"):
        assert word in result.output


def test_alternatives_print_charges_and_ways(town_net: Path, tmp_path: Path) -> None:
    """The least charge to leave with, what more buys, and ways none of which beats another in everything."""
    words = ["--from", "11 Larkmount Road", "--to", "North Quay School", "--chair", TOWN / "demo-chair.toml", "--charge", "4 of 5 bars"]
    words += ["--at", "2026-03-14T18:40-02:00", "--temperature", "6", "--shelters", TOWN / "shelters.csv"]
    result = _run("route", town_net, "--out", tmp_path / "route", "--alternatives", *words)
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert any(line.startswith("Least charge to leave with, planned, charging nowhere:") for line in lines)
    ways = lines[next(i for i, line in enumerate(lines) if line.startswith("Ways of which none")) + 1 :]
    figures = [[float(part.strip(" %doubtminWh")) for part in line.split(",")[:3]] for line in ways if " min, " in line]
    assert figures
    assert [f[0] for f in figures] == sorted(f[0] for f in figures)


def test_explain_hears_of_granted_access_and_of_chairs_that_passed(tmp_path: Path) -> None:
    """The owner's word opens a private yard; a track with a day in the future says nothing, one of last week is told."""
    from towns.hand_drawn import network_of

    net, track = tmp_path / "yard.net", tmp_path / "tracks.csv"
    network_of("n1 0,0\nn2 40,0\nw10 1,2 highway=footway surface=asphalt width=2 incline=0% access=private").save(net)
    told = CliRunner().invoke(main, ["explain", str(net), "way/10", "--chair", "en12184-b", "--at", "2026-03-14T12:00+00:00"])
    assert "forward: excluded: access" in told.output
    (tmp_path / "own.toml").write_text((data_dir() / "quillhaven" / "demo-chair.toml").read_text())
    nodes = "\n".join(f"a,45.2,{lon},own.toml,{{day}}" for lon in (-37.3, -37.299491))
    for day, is_told in (("2026-03-10", True), ("2026-03-20", False)):
        track.write_text("track,lat,lon,chair,date\n" + nodes.format(day=day) + "\n")
        words = ["--chair", str(tmp_path / "own.toml"), "--at", "2026-03-14T12:00+00:00", "--granted", "private", "--passages", str(track)]
        told = CliRunner().invoke(main, ["explain", str(net), "way/10", *words])
        assert told.exit_code == 0, told.output
        assert ("has passed forward: 2026-03-10" in told.output) == is_told
        assert "excluded" not in told.output


def test_messages_from_the_corner_hold_nothing_of_the_door(town_net: Path, tmp_path: Path) -> None:
    """As the link: no address, and the steps keep the numbers of the sheet."""
    folder = tmp_path / "way"
    asked = ("--from", "11 Larkmount Road", "--to", "North Quay School", "--chair", TOWN / "demo-chair.toml", "--charge", "90%")
    assert _run("route", town_net, *asked, "--shelters", TOWN / "shelters.csv", "--out", folder).exit_code == 0
    whole, hidden = _run("text", folder).output, _run("text", folder, "--from-corner").output
    assert "Larkmount Road 11" in whole
    assert "Larkmount Road 11" not in hidden
    assert not re.search(r"\b1/\d 1 ", hidden)
    steps = [re.findall(r"(\d+) (?:left|right|straight on), ", text) for text in (whole, hidden)]
    assert steps[1] == steps[0][-len(steps[1]) :]


def test_an_area_that_touches_no_way_of_the_map_is_told(town_net: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Degrees swapped, or another town's file: it would close nothing, without a word."""
    ring = [[45.20, -37.30], [45.21, -37.30], [45.21, -37.29], [45.20, -37.30]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    area = {"type": "Feature", "properties": {"kind": "closed", "label": "Low Road"}, "geometry": shape}
    (tmp_path / "h.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [area]}))
    asked = ("--from", "11 Larkmount Road", "--to", "North Quay School", "--chair", TOWN / "demo-chair.toml", "--charge", "90%")
    also = ("--shelters", TOWN / "shelters.csv", "--hazards", tmp_path / "h.geojson")
    result = _run("route", town_net, *asked, *also, "--out", tmp_path / "way")
    assert result.exit_code == 0, result.output
    assert "Low Road: touches no way of this map" in caplog.text


def test_ctrl_c_ends_with_its_own_code_and_leaves_what_was_there(town_net: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """1 is what an audit says that found violations: a script must tell a stop from that. POSIX: a code above 128 for a signal."""
    out = tmp_path / "edges.gpkg"
    out.write_bytes(b"earlier")

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("geopandas.GeoDataFrame.to_file", stopped)
    result = _run("build", TOWN / "town.osm.pbf", "--out", tmp_path / "t.net", "--geopackage", out)

    assert result.exit_code == 130
    assert "stopped" in result.stderr
    assert out.read_bytes() == b"earlier"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["edges.gpkg", "t.net"]


def test_a_goal_that_is_shut_on_arrival_is_said(town_net: Path, tmp_path: Path) -> None:
    """Tannery Hall closes at 22:00: proven, no route for whoever leaves at 21:55."""
    shut = _route(town_net, tmp_path / "a", to="Tannery Hall", at="2026-03-14T21:55-02:00")
    assert shut.exit_code == 3
    assert "which closes at 2026-03-14 22:00" in shut.stderr
