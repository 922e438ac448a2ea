"""True kerbs, and how mappers wrote them down: well, badly, against each other, or not at all."""

from random import Random

from .model import Tags

# (share, kind, lowest and highest true height in metres)
KINDS = ((0.55, "lowered", 0.005, 0.03), (0.12, "flush", 0.0, 0.005), (0.08, "rolled", 0.045, 0.08), (0.25, "raised", 0.09, 0.16))
CORNER_KINDS = ((0.68, "lowered", 0.005, 0.03), (0.12, "flush", 0.0, 0.005), (0.06, "rolled", 0.045, 0.08), (0.14, "raised", 0.09, 0.16))
TENDED_KINDS = ((0.8, "lowered", 0.005, 0.03), (0.2, "flush", 0.0, 0.005))
GOOD_KINDS = ((0.8, "lowered", 0.005, 0.03), (0.15, "flush", 0.0, 0.005), (0.05, "raised", 0.09, 0.14))


def true_kerb(rng: Random, kinds: tuple[tuple[float, str, float, float], ...] = KINDS) -> tuple[str, float]:
    """Kind and height of one kerb."""
    pick, run = rng.random(), 0.0
    for share, kind, low, high in kinds:
        run += share
        if pick < run:
            return kind, round(rng.uniform(low, high), 3)
    return kinds[-1][1], round(rng.uniform(*kinds[-1][2:]), 3)


def kerb_tags(rng: Random, kind: str, height_m: float) -> Tags:
    """The tags that a kerb node got from its mapper."""
    pick = rng.random()
    if pick < 0.16:
        return {}
    if pick < 0.34:
        return {"barrier": "kerb"}
    if pick < 0.74:
        return {"barrier": "kerb", "kerb": kind}
    if pick < 0.90:
        return {"barrier": "kerb", "kerb": kind, "kerb:height": f"{height_m:.2f}"}
    if pick < 0.94:
        return {"kerb:height": f"{height_m * 100:.0f} cm"}
    if pick < 0.97 and height_m > 0.08:
        return {"barrier": "kerb", "kerb": "flush", "kerb:height": f"{height_m:.2f}"}  # contradicts itself
    return {"barrier": "kerb", "kerb": "yes"}


def surveyed_tags(kind: str, height_m: float) -> Tags:
    """Tags of a kerb that somebody measured."""
    return {"barrier": "kerb", "kerb": kind, "kerb:height": f"{height_m:.3f}".rstrip("0").rstrip(".") or "0"}
