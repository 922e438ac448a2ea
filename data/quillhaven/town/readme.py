"""The table of the data folder's README: which file, from where, under which licence, with which sum."""

import hashlib
from pathlib import Path

HOW = {
    "town.osm.pbf": "the map as mappers left it, with gaps, dirt and contradictions; dated 2026-03-01",
    "heights.tif": "ground heights, 5 m cells, UTM zone 24 N, metres; white noise of 0.10 m on the true surface, one hole",
    "truth.json.gz": "what is really there: every kerb, width, surface, grade, opening; schema in `make_town.py`",
    "address_points.csv": "street, number, place of every house",
    "shelters.csv": "five shelters, one row for each circuit; some fields empty",
    "riders.csv": "twelve riders, numbers only; some fields empty or unknown",
    "vans.csv": "three vans with a lift",
    "escorts.csv": "eight people who walk along",
    "hazards.geojson": "a flood over Low Road, a deadline, a watch",
    "move.toml": "settings of the evening and the names of these files",
}
BEGIN, END = "<!-- quillhaven: written by make_town.py -->", "<!-- end of quillhaven -->"


def table(folder: Path) -> str:
    """The rows of the town."""
    lines = ["| file | source | licence | sha256 | how made |", "|---|---|---|---|---|"]
    for name, how in HOW.items():
        digest = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        lines.append(
            f"| `quillhaven/{name}` | invented | MIT, as the project | `{digest}` | `python data/quillhaven/make_town.py`: {how} |"
        )
    return "\n".join(lines)


def refresh(readme: Path, folder: Path) -> None:
    """Put the rows between the marks."""
    text = readme.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    readme.write_text(f"{before}{BEGIN}\n{table(folder)}\n{END}{after}", encoding="utf-8")
