"""Draw Quillhaven, an invented river town, and write it down as map data, heights, lists and ground truth.

    python data/quillhaven/make_town.py [--out DIR]

Nothing here is real: the place lies in open sea, every name is made up, riders are numbers.  The same bytes come out every
time (fixed seed).  No code of the planner is used, so that the truth is independent of it.

The town (local metres, x east, y north; 2400 x 1800)
-----------------------------------------------------
hill       south-west; no sidewalks, houses behind kerbs that only driveway aprons break; streets up to 14 %
old        south, middle; ``sidewalk=*`` on the streets, crossings as nodes; cobbles, passage, alley, gates, the square
ropewalk   south-east; like old, looser; a parking lot with aisles, a street dug up
north      north bank; sidewalks, crossings and kerbs as ways and nodes of their own
westbank   north bank, west; ``sidewalk=*``
park       north bank, east; gravel paths, one shut in winter
upland     beyond the fast road in the north, which has few crossings and a foot tunnel

Stories (a chair of class B: kerbs to 50 mm, 1:12, gaps of 0.80 m); the script prints the lengths it measured
-------------------------------------------------------------------------------------------------------------
1. R01's house on Larkmount Road -> North Quay School, over the river:
   short    Sheep Path straight down to Low Road: over 1:12 (and the Weir Footbridge below has a raised kerb and a tight cycle barrier);
   middle   Larkmount Road, Low Road, Long Bridge: can be driven in truth, but nobody has looked at the kerbs at the bridge's north end;
   long     Larkmount Road, Low Road, Mill Bridge, North Quay: every kerb, width and surface measured and tagged.
   The driveway at the start has its apron's kerb tagged too.
   Low Road floods at 20:30 (hazards.geojson): middle and long must be over by then.
2. Tannery Hall -> North Quay School (R08, R09), about 1 km: both indoors, one bank, many crossings with and without tags.
3. 1 Far Meadow (R07), about 80 m off every mapped way -> Ropewalk Sports Hall: the first stretch is not mapped.
4. Ferrow Library -> Tannery Hall, about 650 m: through the tunnel under Ferrow Road.
5. Larkmount Hall: a step of 70 mm at the only door, no way in for class B without a portable ramp.

Files
-----
town.osm.pbf        the map as mappers left it: tags right, missing, dirty and contradicting; dated 2026-03-01
heights.tif         EPSG:32624, 5 m cells, float32 metres, white noise of sigma 0.10 m on the true surface, one hole
truth.json.gz       what is really there (below)
address_points.csv  street,housenumber,lat,lon: every house but the far one, also those without a number on the map
shelters.csv, riders.csv, vans.csv, escorts.csv, hazards.geojson, move.toml      the move of one evening

truth.json.gz
-------------
{"schema": 1, "crs": "EPSG:32624", "origin_m": [easting, northing of local 0,0],
 "nodes": {"<osm node id>": {                         every node of a way that people move on
     "ele_m": true height; of the deck or floor where the node is not on the ground,
     "kerb": {"place": "kerb_node"      a node on a footway where it crosses the kerb line (tagged or not),
                     | "crossing_node"  a crossing mapped only as a node on the street (left/right along the way),
                     | "apron"          where a driveway crosses the kerb line,
                     | "corner",        a junction: stepping down there to go on along a street
              "kind": "lowered|flush|rolled|raised", "height_m": the higher side, "left_height_m", "right_height_m"},
     "opening_m": gap of a barrier, "locked": bool, "door_width_m", "threshold_m", "automatic": bool,
     "lift": {"door_width_m", "car_width_m", "car_length_m"}}},
 "ways": {"<osm way id>": {
     "kind": street|sidewalk|crossing|path|driveway|service|area|indoor (absent for rooms), "width_m": narrowest clear width,
     "surface", "smoothness", "sidewalk": both|left|right|no|separate, "sidewalk_width_m",
     "grades": rise/run of every piece from node to node, in the way's direction, from the surface without noise,
     "end_kerbs": {"<node id>": height_m} of the kerb crossed at that end of the way, where it meets a street (a crossing: the
         sidewalk); the same kerb as the "kerb_node" or "apron" next to that end, where there is one,
     "steps": number of steps, "closed": why, "area": true where people cross it freely, "level": storey}}}
"""

import argparse
import sys
from pathlib import Path
from random import Random

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

from town import buildings, dressing, finish, indoor, paths, readme, sidewalks, stories, streets, tables, write  # noqa: E402
from town.model import Town  # noqa: E402

SEED = 20260301
Drawn = tuple[Town, list[buildings.Address], list[indoor.Shelter], stories.Story]


def draw() -> Drawn:
    """Draw the town; every part has a random stream of its own, so that one may change without the others."""
    town = Town()
    dressing.place_streets(town, streets.draft_streets(Random(SEED)), Random(SEED + 1))
    sidewalks.draw_sidewalks(town, Random(SEED + 2))
    sidewalks.draw_crossing_ways(town, Random(SEED + 3))
    sidewalks.mark_crossing_nodes(town, Random(SEED + 4))
    paths.draw_paths(town, Random(SEED + 5))
    shelters = indoor.draw_shelters(town)
    paths.knit(town)
    addresses = buildings.build_houses(town, Random(SEED + 6))
    buildings.landmarks(town, Random(SEED + 7))
    buildings.grounds(town)
    sidewalks.record_corners(town, Random(SEED + 8), ("old", "ropewalk", "westbank", "upland"))
    sidewalks.record_corners(town, Random(SEED + 10), ("hill", "north", "park"))
    finish.level_structures(town)
    finish.finish_ways(town, Random(SEED + 9))
    finish.record_mouths(town, Random(SEED + 11))
    finish.close_for_works(town)
    finish.measure(town)
    story = stories.tell(town, addresses, shelters)
    finish.soil(town, set(story.ways))
    return town, addresses, shelters, story


def write_all(folder: Path) -> Drawn:
    """Write every file of the town into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    drawn = draw()
    town, addresses, shelters, story = drawn
    write.write_map(town, folder / "town.osm.pbf")
    write.write_heights(folder / "heights.tif", SEED)
    write.write_truth(town, folder / "truth.json.gz")
    tables.write_tables(town, addresses, shelters, story, folder)
    return drawn


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Draw the invented town of Quillhaven.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to (default: beside this script)")
    folder = parser.parse_args().out
    town, addresses, _, story = write_all(folder)
    if folder.resolve() == HERE:
        readme.refresh(HERE.parent / "README.md", HERE)
    print(f"{len(town.nodes)} nodes, {len(town.ways)} ways, {len(addresses)} addresses")
    print(
        f"main story from {story.home.number} {story.home.street}: short {story.foot_m:.0f} m (too steep), "
        f"middle {story.unverified_m:.0f} m (unverified kerbs), long {story.surveyed_m:.0f} m (surveyed)"
    )


if __name__ == "__main__":
    main()
