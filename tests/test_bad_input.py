"""Bad input to every command: a message that names the fault, one of the documented exit codes, no traceback, and nothing lost.

Each case changes one thing in a folder that works, and runs one command. Exit codes as ``rollroute.errors`` documents them.
"""

# ruff: noqa: E501 - a table of cases, one a line
from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from click.testing import CliRunner, Result

from rollroute.cli import main
from rollroute.inputs.tables import data_dir
from rollroute.network.network import Network

TOWN = data_dir() / "quillhaven"
QUICK = "\n[effort]\nexact_work = 0.1\nsearch_rounds = 20\n"
RIDERS = """id,place,chair,charge,rider_mass_kg,charger,stay_with,life_support_min,longest_roll_min,consent,chair_length_cm,seated_height_cm
A,14 Weaver Street,en12184-b,full,87,on board,,none,60,yes,115,135
B,Tannery Hall,en12184-b,60%,79,with rider,,180,45,yes,118,134
"""
FACTS = "lat,lon,fact,value,unit,date\n45.2014399,-37.2958806,kerb_height,3,cm,2026-03-01\n"
COPIED = ("move.toml", "shelters.csv", "vans.csv", "escorts.csv", "hazards.geojson", "address_points.csv")

ROUTE = (
    "route NET --from '11 Larkmount Road' --to 'North Quay School' --chair chair.toml --charge '4 of 5 bars' --shelters evening/shelters.csv"
    " --at 2026-03-14T18:40-02:00 --temperature 6 --out out"
)
EXPLAIN = "explain NET 45.2014399,-37.2958806 --chair chair.toml --at 2026-03-14T18:40-02:00"
CHECK = "check evening --network NET"
MOVE = "move evening --out planned --network NET --plan-only --no-fail-one"
AUDIT = "audit planned/plan.json --network NET"
HOME = "way-home planned/plan.json --start 2026-03-15T10:00 --out home"
BUILD = "build town.osm.pbf --out new.net"


class Base(NamedTuple):
    """What the cases start from: a saved network, and a folder to copy."""

    net: Path
    folder: Path


@pytest.fixture(scope="module")
def base(quillhaven: Network, tmp_path_factory: pytest.TempPathFactory) -> Base:
    work = tmp_path_factory.mktemp("bad-input")
    net, folder = work / "town.net", work / "good"
    quillhaven.save(net)
    (folder / "evening").mkdir(parents=True)
    for name in COPIED:
        shutil.copy(TOWN / name, folder / "evening" / name)
    (folder / "evening" / "move.toml").write_text((TOWN / "move.toml").read_text(encoding="utf-8") + QUICK, encoding="utf-8")
    (folder / "evening" / "riders.csv").write_text(RIDERS, encoding="utf-8")
    shutil.copy(TOWN / "demo-chair.toml", folder / "chair.toml")
    shutil.copy(TOWN / "heights.tif", folder / "heights.tif")
    shutil.copy(TOWN / "town.osm.pbf", folder / "town.osm.pbf")
    (folder / "facts.csv").write_text(FACTS, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for command in (ROUTE, MOVE):
            result = run(command, net)
            assert result.exit_code == 0, result.output
    return Base(net, folder)


@pytest.fixture
def here(base: Base, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A copy of the good folder, as the working directory."""
    folder = tmp_path / "case"
    shutil.copytree(base.folder, folder)
    monkeypatch.chdir(folder)
    return folder


def run(command: str, net: Path) -> Result:
    import shlex

    return CliRunner().invoke(main, [str(net) if word == "NET" else word for word in shlex.split(command)])


# --- changes -------------------------------------------------------------------------------------------------------------------------
Change = Callable[[], object]


def nothing() -> None:
    """The command line itself is the bad input."""


def gone(name: str) -> Change:
    return lambda: shutil.rmtree(name) if Path(name).is_dir() else Path(name).unlink()


def text(name: str, content: str) -> Change:
    return lambda: Path(name).write_text(content, encoding="utf-8")


def raw(name: str, content: bytes) -> Change:
    return lambda: Path(name).write_bytes(content)


def cut(name: str, share: float = 0.5) -> Change:
    def change() -> None:
        content = Path(name).read_bytes()
        Path(name).write_bytes(content[: int(len(content) * share)])

    return change


def swap(name: str, old: str, new: str) -> Change:
    def change() -> None:
        content = Path(name).read_text(encoding="utf-8")
        assert old in content, f"{old!r} is not in {name}"
        Path(name).write_text(content.replace(old, new, 1), encoding="utf-8")

    return change


def recoded(name: str, encoding: str, old: str = "", new: str = "") -> Change:
    return lambda: Path(name).write_bytes(Path(name).read_text(encoding="utf-8").replace(old, new).encode(encoding))


def folder_instead(name: str) -> Change:
    def change() -> None:
        gone(name)()
        Path(name).mkdir()

    return change


def file_instead(name: str) -> Change:
    def change() -> None:
        if Path(name).exists():
            gone(name)()
        Path(name).write_text("a file", encoding="utf-8")

    return change


def edited(name: str, edit: Callable[[dict], object]) -> Change:  # type: ignore[type-arg]
    def change() -> None:
        document = json.loads(Path(name).read_text(encoding="utf-8"))
        edit(document)
        Path(name).write_text(json.dumps(document), encoding="utf-8")

    return change


def header_only(name: str) -> Change:
    return lambda: Path(name).write_text(Path(name).read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")


def raster(name: str, west: float, north: float, *, bands: int = 1, crs: str | None = "EPSG:4326", fill: float = 5.0) -> Change:
    def change() -> None:
        import rasterio
        from rasterio.transform import from_origin

        shape = {"height": 40, "width": 40, "count": bands, "dtype": "float32"}
        where = {"crs": crs, "transform": from_origin(west, north, 0.001, 0.001), "nodata": -9999.0}
        with rasterio.open(name, "w", driver="GTiff", **shape, **where) as out:
            out.write(np.full((bands, 40, 40), fill, np.float32))

    return change


def riders(*rows: str) -> Change:
    return text("evening/riders.csv", RIDERS.splitlines()[0] + "\n" + "\n".join(rows) + "\n")


ROW_A, ROW_B = RIDERS.splitlines()[1:]


class Case(NamedTuple):
    name: str
    change: Change
    command: str
    codes: tuple[int, ...]
    says: str = ""  # what the output must name


MAP, NET, CHAIR = "town.osm.pbf", "broken.net", "chair.toml"
BAD_NET = ROUTE.replace("NET", NET)
P = "planned/plan.json"
R = "evening/riders.csv"
S = "evening/shelters.csv"

CASES = [
    # build
    Case("map missing", gone(MAP), BUILD, (2,), MAP),
    Case("map is a folder", folder_instead(MAP), BUILD, (2,), MAP),
    Case("map empty", raw(MAP, b""), BUILD, (2,), MAP),
    Case("map cut", cut(MAP), BUILD, (2,), MAP),
    Case("map is a spreadsheet", text(MAP, RIDERS), BUILD, (2,), MAP),
    Case("map is XML without ways", text("no.osm", "<osm version='0.6'></osm>"), "build no.osm --out new.net", (2, 4), "no.osm"),
    Case("map is unclosed XML", text("no.osm", "<osm version='0.6'><node id='1'"), "build no.osm --out new.net", (2,), "no.osm"),
    Case("heights missing", nothing, BUILD + " --heights nowhere.tif", (2,), "nowhere.tif"),
    Case("heights cut", cut("heights.tif", 0.3), BUILD + " --heights heights.tif", (2,), "heights.tif"),
    Case("heights empty", raw("heights.tif", b""), BUILD + " --heights heights.tif", (2,), "heights.tif"),
    Case("heights are a folder", folder_instead("heights.tif"), BUILD + " --heights heights.tif", (0, 2), "heights.tif"),
    Case("heights are text", text("heights.tif", RIDERS), BUILD + " --heights heights.tif", (2,), "heights.tif"),
    Case("heights of another place", raster("far.tif", 10.0, 50.0), BUILD + " --heights far.tif", (2,), "far.tif"),
    Case("heights without projection", raster("p.tif", -37.33, 45.22, crs=None), BUILD + " --heights p.tif", (2,), "p.tif"),
    Case("heights all void", raster("v.tif", -37.33, 45.22, fill=-9999.0), BUILD + " --heights v.tif", (0, 2)),
    Case("addresses missing", nothing, BUILD + " --addresses no.csv", (2,), "no.csv"),
    Case("addresses without columns", text("a.csv", "one,two\n1,2\n"), BUILD + " --addresses a.csv", (2,), "a.csv"),
    Case("network out is a folder", lambda: Path("new.net").mkdir(), BUILD, (2,), "new.net"),
    Case("network out below a file", file_instead("sub"), BUILD.replace("new.net", "sub/new.net"), (2,), "sub"),
    Case("geopackage below a file", file_instead("sub"), BUILD + " --geopackage sub/e.gpkg", (2,), "sub"),
    # route
    Case("network missing", nothing, BAD_NET, (2,), NET),
    Case("network is a folder", lambda: Path(NET).mkdir(), BAD_NET, (2,), NET),
    Case("network is empty", raw(NET, b""), BAD_NET, (2,), NET),
    Case("network is text", text(NET, "hello " * 100), BAD_NET, (2,), NET),
    Case("chair missing", gone(CHAIR), ROUTE, (2,), CHAIR),
    Case("chair is a folder", folder_instead(CHAIR), ROUTE, (2,), CHAIR),
    Case("chair empty", raw(CHAIR, b""), ROUTE, (2, 4), CHAIR),
    Case("chair is UTF-16", recoded(CHAIR, "utf-16"), ROUTE, (2,), CHAIR),
    Case("chair is Latin-1", recoded(CHAIR, "latin-1", "invented", "erfundén"), ROUTE, (2,), CHAIR),
    Case("chair with a BOM", recoded(CHAIR, "utf-8-sig"), ROUTE, (0, 2), ""),
    Case("chair as text value", swap(CHAIR, "{ value = 130.0", '{ value = "heavy"'), ROUTE, (2,), "mass_kg"),
    Case("chair of negative mass", swap(CHAIR, "{ value = 130.0", "{ value = -130.0"), ROUTE, (2,), "mass_kg"),
    Case("chair of NaN mass", swap(CHAIR, "{ value = 130.0", "{ value = nan"), ROUTE, (2,), "mass_kg"),
    Case("chair of infinite mass", swap(CHAIR, "{ value = 130.0", "{ value = inf"), ROUTE, (2,), "mass_kg"),
    Case("chair of a tonne a centimetre", swap(CHAIR, "{ value = 0.66", "{ value = 66"), ROUTE, (2,), "width_m"),
    Case("chair with a vertical slope", swap(CHAIR, "{ value = 6.0", "{ value = 90.0"), ROUTE, (2,), "rated_slope_deg"),
    Case("chair of no speed", swap(CHAIR, "{ value = 1.67", "{ value = 0.0"), ROUTE, (2,), "speed_m_s"),
    Case("chair of no efficiency", swap(CHAIR, "{ value = 0.65", "{ value = 0"), ROUTE, (2,), "drive_efficiency"),
    Case("chair of unknown wheel", swap(CHAIR, '"standard", status', '"round", status'), ROUTE, (2,), "wheel"),
    Case("chair without battery", lambda: Path(CHAIR).write_text(Path(CHAIR).read_text().split("[battery]")[0]), ROUTE, (0, 2, 3, 4)),
    Case("chair of unknown chemistry", swap(CHAIR, '"gel"', '"soup"'), ROUTE, (2,), "soup"),
    Case("chair battery is a number", swap(CHAIR, "[battery]", "battery = 3\n[batteries]"), ROUTE, (2,), "battery"),
    Case("gauge of no bars", swap(CHAIR, "n_bars = 5", "n_bars = 0"), ROUTE, (2,), "bars"),
    Case("charge of nonsense", nothing, ROUTE.replace("4 of 5 bars", "plenty"), (2,), "plenty"),
    Case("charge of 900%", nothing, ROUTE.replace("4 of 5 bars", "900%"), (2,), "900"),
    Case("charge of 9 of 5", nothing, ROUTE.replace("4 of 5 bars", "9 of 5 bars"), (2,), "9 of 5"),
    Case("charge of 0 of 0", nothing, ROUTE.replace("4 of 5 bars", "0 of 0 bars"), (2,), "0 of 0"),
    Case("charge of 0%", nothing, ROUTE.replace("4 of 5 bars", "0%"), (3, 4), "0%"),
    Case("empty place", nothing, ROUTE.replace("11 Larkmount Road", ""), (2,), ""),
    Case("place on the moon", nothing, ROUTE.replace("11 Larkmount Road", "95.0,400.0"), (2,), "95"),
    Case("place elsewhere", nothing, ROUTE.replace("11 Larkmount Road", "48.1,11.5"), (2, 4), "48.1"),
    Case("place nan", nothing, ROUTE.replace("11 Larkmount Road", "nan,nan"), (2,), "nan"),
    Case("room of no shelter", nothing, ROUTE.replace("North Quay School", "North Quay School:attic"), (2, 4), "attic"),
    Case("moment of nonsense", nothing, ROUTE.replace("2026-03-14T18:40-02:00", "teatime"), (2,), "teatime"),
    Case("hour 25", nothing, ROUTE.replace("2026-03-14T18:40-02:00", "25:99"), (2,), "25:99"),
    Case("nan degrees", nothing, ROUTE.replace("--temperature 6", "--temperature nan"), (2,), "temperature"),
    Case("400 degrees", nothing, ROUTE.replace("--temperature 6", "--temperature 400"), (2,), "400"),
    Case("rider of -5 kg", nothing, ROUTE + " --rider-mass -5", (2,), "-5"),
    Case("rider of nan kg", nothing, ROUTE + " --rider-mass nan", (2,), "nan"),
    Case("grade nan", nothing, ROUTE + " --max-grade nan", (2,), "grade"),
    Case("grade negative", nothing, ROUTE + " --max-grade -0.1", (2,), "grade"),
    Case("grade 5", nothing, ROUTE + " --max-grade 5", (2,), "5"),
    Case("standard unknown", nothing, ROUTE + " --standard ../../x", (2,), "../../x"),
    Case("key unknown", nothing, ROUTE + " --key node/99999999", (2,), ""),  # a key that fits nothing opens nothing
    Case("key of nonsense", nothing, ROUTE + " --key node/x", (2,), ""),
    Case("powered unknown", nothing, ROUTE + " --powered 'Castle <b>'", (2,), "Castle"),
    Case("shelters missing", gone(S), ROUTE, (2,), "shelters.csv"),
    Case("shelters empty", raw(S, b""), ROUTE, (2,), "shelters.csv"),
    Case("shelters without rows", header_only(S), ROUTE, (2,), ""),
    Case("shelters binary", raw(S, bytes(range(256)) * 20), ROUTE, (2,), "shelters.csv"),
    Case("shelters broken GeoJSON", text("s.geojson", "{"), ROUTE.replace(S, "s.geojson"), (2,), "s.geojson"),
    Case("shelters GeoJSON list", text("s.geojson", "[1]"), ROUTE.replace(S, "s.geojson"), (2,), "s.geojson"),
    Case("shelters no workbook", raw("s.xlsx", b"PK no"), ROUTE.replace(S, "s.xlsx"), (2,), "s.xlsx"),
    Case("hazards missing", nothing, ROUTE + " --hazards no.geojson", (2,), "no.geojson"),
    Case("hazards a list", text("h.geojson", "[]"), ROUTE + " --hazards h.geojson", (2,), "h.geojson"),
    Case(
        "hazards null", text("h.geojson", '{"type":"FeatureCollection","features":null}'), ROUTE + " --hazards h.geojson", (2,), "h.geojson"
    ),
    Case(
        "hazard without geometry",
        text("h.geojson", '{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":null}]}'),
        ROUTE + " --hazards h.geojson",
        (2,),
        "h.geojson",
    ),
    Case(
        "hazard of two points",
        text(
            "h.geojson",
            '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"closed"},'
            '"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,1]]]}}]}',
        ),
        ROUTE + " --hazards h.geojson",
        (2,),
        "h.geojson",
    ),
    Case("facts missing", nothing, ROUTE + " --facts no.csv", (2,), "no.csv"),
    Case("facts empty", raw("facts.csv", b""), ROUTE + " --facts facts.csv", (0, 2), ""),
    Case("facts Latin-1", recoded("facts.csv", "latin-1", "cm", "é"), ROUTE + " --facts facts.csv", (2,), "facts.csv"),
    Case("facts UTF-16", recoded("facts.csv", "utf-16"), ROUTE + " --facts facts.csv", (0, 2), ""),
    Case("facts with semicolons", swap("facts.csv", FACTS, FACTS.replace(",", ";")), ROUTE + " --facts facts.csv", (0, 2), ""),
    Case("facts short row", text("facts.csv", FACTS + "45.2,-37.3\n"), ROUTE + " --facts facts.csv", (2,), "facts.csv"),
    Case("facts nan", swap("facts.csv", ",3,cm", ",nan,cm"), ROUTE + " --facts facts.csv", (2,), "facts.csv"),
    Case("facts null geometry", text("f.json", '{"features":[{"geometry":null}]}'), ROUTE + " --facts f.json", (2,), "f.json"),
    Case(
        "facts null properties",
        text("f.json", '{"features":[{"properties":null,"geometry":{"coordinates":[1,2]}}]}'),
        ROUTE + " --facts f.json",
        (2,),
        "f.json",
    ),
    Case("facts a list", text("f.json", "[1]"), ROUTE + " --facts f.json", (2,), "f.json"),
    Case("route out is a file", file_instead("out"), ROUTE, (2,), "out"),
    Case("route out below a file", file_instead("sub"), ROUTE.replace("--out out", "--out sub/out"), (2,), "sub"),
    Case("code with a path", nothing, ROUTE + " --code '../x<script>'", (0, 2), ""),
    # explain
    Case("explain nonsense", nothing, EXPLAIN.replace("45.2014399,-37.2958806", "here"), (2,), "here"),
    Case("explain unknown way", nothing, EXPLAIN.replace("45.2014399,-37.2958806", "way/1"), (2, 4), "way/1"),
    Case("explain way nonsense", nothing, EXPLAIN.replace("45.2014399,-37.2958806", "way/x"), (2,), "way/x"),
    Case("explain nan", nothing, EXPLAIN.replace("45.2014399,-37.2958806", "nan,1"), (2,), "nan"),
    Case("explain elsewhere", nothing, EXPLAIN.replace("45.2014399,-37.2958806", "0,0"), (2, 4), "0"),
    # sheet, link, text
    *(
        Case(f"{command.split()[0]}: {name}", change, command, (2,), "route.json" if name != "no folder" else "out")
        for command in ("sheet out --out sheet.pdf", "link out --out link.html", "text out")
        for name, change in (
            ("no folder", gone("out")),
            ("no route.json", gone("out/route.json")),
            ("route.json empty", raw("out/route.json", b"")),
            ("route.json cut", cut("out/route.json")),
            ("route.json a list", text("out/route.json", "[1]")),
            ("route.json Latin-1", raw("out/route.json", b"\xe9")),
            ("route.json a folder", folder_instead("out/route.json")),
            (
                "route.json of other types",
                edited("out/route.json", lambda d: [d.__setitem__(k, 3) for k in d if k not in ("format", "version")]),
            ),
        )
    ),
    *(
        Case(
            f"{command.split()[0]}: every {key} a wrong type",
            edited("out/route.json", lambda d, k=key: d.__setitem__(k, {"a": 1})),
            command,
            (0, 2),
            "",
        )
        for command in ("text out",)
        for key in ("legs", "steps", "start", "goal")
    ),
    Case("sheet out is a folder", lambda: Path("s.pdf").mkdir(), "sheet out --out s.pdf", (2,), "s.pdf"),
    Case("sheet out below a file", file_instead("sub"), "sheet out --out sub/s.pdf", (2,), "sub"),
    Case("link out is a folder", lambda: Path("l.html").mkdir(), "link out --out l.html", (2,), "l.html"),
    Case("link out below a file", file_instead("sub"), "link out --out sub/l.html", (2,), "sub"),
    Case("link until nonsense", nothing, "link out --out l.html --valid-until tomorrow", (2,), "tomorrow"),
    Case("link until without zone", nothing, "link out --out l.html --valid-until 2026-03-14T22:00", (0, 2), ""),
    Case("sheet rest nan", nothing, "sheet out --out s.pdf --rest-minutes nan", (2,), "nan"),
    Case("sheet rest negative", nothing, "sheet out --out s.pdf --rest-minutes -3", (2,), "-3"),
    Case("sheet phone hostile", nothing, "sheet out --out s.pdf --phone '<b>&</para>\x07'", (0, 2), ""),
    Case("sheet link far too long", nothing, f"sheet out --out s.pdf --link-address https://a.example/{'x' * 5000}", (0, 2), ""),
    Case("carer card missing", nothing, "sheet out --out s.pdf --carer-card no.toml", (2,), "no.toml"),
    Case("carer card nonsense", text("c.toml", "consent = 3\n"), "sheet out --out s.pdf --carer-card c.toml", (2,), "c.toml"),
    # check and move
    *(
        Case(f"{command.split()[0]}: {name}", change, command, codes, says)
        for command, ok in ((CHECK, (0, 2)), (MOVE, (0, 2, 4)))
        for name, change, codes, says in (
            ("no folder", gone("evening"), (2,), "evening"),
            ("folder is a file", file_instead("evening"), (2,), "evening"),
            ("no move.toml", gone("evening/move.toml"), (2,), "move.toml"),
            ("move.toml empty", raw("evening/move.toml", b""), (2,), "move.toml"),
            ("move.toml UTF-16", recoded("evening/move.toml", "utf-16"), (2,), "move.toml"),
            ("move.toml: files is text", swap("evening/move.toml", "[files]", 'files = "a"\n[other]'), (2,), "files"),
            ("move.toml: unknown zone", swap("evening/move.toml", "Etc/GMT+2", "../../etc/passwd"), (2,), "passwd"),
            ("move.toml: start nonsense", swap("evening/move.toml", "2026-03-14T18:40", "soon"), (2,), "soon"),
            ("move.toml: temperature text", swap("evening/move.toml", "temperature_c = 6", 'temperature_c = "mild"'), (2,), "temperature"),
            ("move.toml: temperature nan", swap("evening/move.toml", "temperature_c = 6", "temperature_c = nan"), (2,), "temperature"),
            ("move.toml: load time negative", swap("evening/move.toml", "load_min = 12", "load_min = -12"), (2,), "load_min"),
            ("move.toml: powered a number", swap("evening/move.toml", '["node/5168"]', "7"), (2,), "powered"),
            ("move.toml: riders file a number", swap("evening/move.toml", '"riders.csv"', "7"), (2,), "riders"),
            ("riders missing", gone(R), (2,), "riders.csv"),
            ("riders a folder", folder_instead(R), (2,), "riders.csv"),
            ("riders empty", raw(R, b""), (2,), "riders.csv"),
            ("0 riders", header_only(R), ok, ""),
            ("0 vans", header_only("evening/vans.csv"), ok, ""),
            ("0 escorts", header_only("evening/escorts.csv"), ok, ""),
            ("0 shelters", header_only(S), ok, "shelter"),
            ("riders Latin-1", recoded(R, "latin-1", "14 Weaver", "14 Wéaver"), (0, 2, 4), ""),
            ("riders UTF-16", recoded(R, "utf-16"), (0,), ""),
            ("riders UTF-16 cut", raw(R, RIDERS.encode("utf-16")[:-3]), (0, 2), ""),
            ("riders BOM, semicolons", recoded(R, "utf-8-sig", ",", ";"), (0,), ""),
            ("riders NUL bytes", raw(R, RIDERS.encode() + b"\0\0\0,\0\n"), (0, 2), ""),
            ("riders field of a megabyte", text(R, RIDERS + 'C,"' + "x" * 1_000_000 + '",en12184-b\n'), (2,), "riders.csv"),
            ("riders open quote", text(R, RIDERS.replace("14 Weaver", '"14 Weaver')), (0, 2, 4), ""),
            ("duplicate ids", riders(ROW_A, ROW_B.replace("B,", "A,", 1)), (2,), "A"),
            ("hostile ids", riders(ROW_A.replace("A,", "../x,", 1), ROW_B.replace("B,", "<script>,", 1)), (0, 2), ""),
            ("formula cells", riders(ROW_A.replace("A,", "=cmd(),", 1), ROW_B), (0, 2), ""),
            ("stay_with circle", riders(ROW_A.replace("on board,", "on board,B"), ROW_B.replace("with rider,", "with rider,A")), ok, ""),
            ("stay_with oneself", riders(ROW_A.replace("on board,", "on board,A"), ROW_B), ok, ""),
            ("stay_with nobody", riders(ROW_A.replace("on board,", "on board,Z9"), ROW_B), (0, 2), "Z9"),
            ("chair file elsewhere", riders(ROW_A.replace("en12184-b", "../../x.toml"), ROW_B), (2,), "x.toml"),
            ("rider mass inf", riders(ROW_A.replace(",87,", ",inf,"), ROW_B), (2,), "inf"),
            ("rider mass 1e308", riders(ROW_A.replace(",87,", ",1e308,"), ROW_B), (2,), "rider_mass_kg"),
            ("vans of nonsense", text("evening/vans.csv", "hello\n"), (2,), "vans.csv"),
            ("van at nan", swap("evening/vans.csv", "45.2051942", "nan"), (0, 2), ""),
            ("van elsewhere", swap("evening/vans.csv", "45.2051942", "10.0"), (0, 2, 4), "V1"),
            ("shelter places negative", swap(S, ",6,8,3,", ",-6,8,3,"), (2,), "-6"),
            ("shelter entrance nonsense", swap(S, "node/5182", "node/x"), (0, 2), ""),
            ("hazards not JSON", text("evening/hazards.geojson", "{"), (2,), "hazards.geojson"),
            ("hazards null", text("evening/hazards.geojson", "null"), (2,), "hazards.geojson"),
            ("hazard of unknown kind", swap("evening/hazards.geojson", '"closed"', '"<b>"'), (2,), "hazards.geojson"),
        )
    ),
    Case("check: network missing", nothing, CHECK.replace("NET", NET), (2,), NET),
    Case("move out is a file", file_instead("planned"), MOVE, (2,), "planned"),
    Case("move from nothing", nothing, MOVE + " --from no.json", (2,), "no.json"),
    Case("move from a list", text("p.json", "[1]"), MOVE + " --from p.json", (2,), "p.json"),
    Case("move from an edited plan", edited(P, lambda d: d.__setitem__("vans", 3)), MOVE + f" --from {P}", (2,), P),
    Case("move now without from", nothing, MOVE + " --now 19:20", (2,), "--from"),
    Case("move now of nonsense", nothing, MOVE + f" --from {P} --now noonish", (2,), "noonish"),
    Case("move what-if of nonsense", nothing, MOVE + " --what-if 'more luck'", (2,), "more luck"),
    Case("move what-if closed nowhere", nothing, MOVE + " --what-if 'closed: Castle'", (2,), "Castle"),
    # audit and way home
    *(
        Case(f"{command.split()[0]}: {name}", change, command, codes, says)
        for command in (AUDIT, HOME)
        for name, change, codes, says in (
            ("plan missing", gone(P), (2,), "plan.json"),
            ("plan a folder", folder_instead(P), (2,), "plan.json"),
            ("plan given as its folder", lambda: (Path("x").mkdir(), Path(P).rename("x/p"), Path("x").rename(P)), (2,), "plan.json"),
            ("plan empty", raw(P, b""), (2,), "plan.json"),
            ("plan cut", cut(P), (2,), "plan.json"),
            ("plan a list", text(P, "[1]"), (2,), "plan.json"),
            ("plan of an older format", edited(P, lambda d: d.__setitem__("version", 0)), (2,), "plan.json"),
            ("plan: riders null", edited(P, lambda d: d.__setitem__("riders", None)), (2,), "plan.json"),
            ("plan: rider dropped", edited(P, lambda d: d["riders"].pop()), (0, 1, 2), ""),
            ("plan: rider unknown", edited(P, lambda d: d["riders"][0].__setitem__("id", "Z9")), (1, 2), "Z9"),
            ("plan: rider twice", edited(P, lambda d: d["riders"].append(d["riders"][0])), (1, 2), ""),
            ("plan: key misspelt", edited(P, lambda d: d["riders"][0].__setitem__("idd", 1)), (2,), "idd"),
            (
                "plan: all rider values text",
                edited(P, lambda d: d["riders"][0].update({k: "soon" for k in d["riders"][0] if k != "id"})),
                (1, 2),
                "soon",
            ),
            (
                "plan: all rider values null",
                edited(P, lambda d: d["riders"][0].update({k: None for k in d["riders"][0] if k != "id"})),
                (0, 1, 2),
                "",
            ),
            (
                "plan: all values null",
                edited(P, lambda d: d.update({k: None for k in d if k not in ("format", "version")})),
                (2,),
                "plan.json",
            ),
            ("plan: shelter unknown", edited(P, lambda d: d["riders"][0].__setitem__("shelter", "Castle")), (0, 1, 2), ""),
            ("plan: van unknown", edited(P, lambda d: d["vans"][0].__setitem__("id", "V9")), (0, 1, 2), ""),
            (
                "plan: inputs elsewhere",
                edited(P, lambda d: [d.__setitem__(k, "nowhere") for k in d if "dir" in k or "folder" in k or k == "move"]),
                (0, 1, 2),
                "",
            ),
            ("travel missing", gone("planned/travel.json"), (0, 1, 2), ""),
            ("travel empty", raw("planned/travel.json", b""), (0, 1, 2), ""),
            ("travel a list", text("planned/travel.json", "[1]"), (0, 1, 2), ""),
            ("move folder gone", gone("evening"), (0, 1, 2), ""),
            ("riders changed", riders(ROW_B), (0, 1, 2), ""),
            ("riders unreadable", raw(R, b""), (0, 1, 2), ""),
        )
    ),
    Case("way-home start nonsense", nothing, HOME.replace("2026-03-15T10:00", "later"), (2,), "later"),
    Case("way-home out is a file", file_instead("home"), HOME, (2,), "home"),
    Case("way-home answers missing", nothing, HOME + " --answers no.csv", (2,), "no.csv"),
    Case("way-home answers empty", raw("a.csv", b""), HOME + " --answers a.csv", (2,), "a.csv"),
]


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.filterwarnings("ignore::PendingDeprecationWarning")  # from the library that writes rasters here
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_bad_input_ends_with_a_message(case: Case, base: Base, here: Path) -> None:
    """No traceback, a documented exit code, the fault named; where the command refuses, every file is as it was."""
    case.change()
    before = _contents(here)
    result = run(case.command, base.net)
    if not isinstance(result.exception, SystemExit | None):
        raise result.exception
    assert result.exit_code in case.codes, result.output
    assert case.says in result.output, result.output
    if result.exit_code in (2, 3, 4):
        assert "rollroute: " in result.output or "check" in case.command or "Error: " in result.output, result.output
        assert _contents(here) == before, "a refused command changed files"
