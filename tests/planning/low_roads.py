"""A town with a limit of height on one of its streets."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from rollroute.network.network import Network


def limited(town: Network, street: str, maxheight: str) -> Network:
    """The town with a limit of height on every way of one street."""
    rows = range(len(town.ways.osm_id))
    tags = [town.ways.tags(i) | ({"maxheight": maxheight} if town.ways.name(i) == street else {}) for i in rows]
    texts = [json.dumps(t).encode() for t in tags]
    offsets = np.cumsum([0, *(len(t) for t in texts)])
    return replace(town, ways=replace(town.ways, tags_bytes=np.frombuffer(b"".join(texts), np.uint8), tags_offsets=offsets))
