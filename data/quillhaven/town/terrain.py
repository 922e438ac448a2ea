"""The true, noise-free surface of Quillhaven, as a formula in local metres.

x runs east, y north, from the south-west corner of the town.  Plain ``math`` is used on purpose: vectorised
libraries may round differently on another processor, and the town must come out the same everywhere.
"""

import math

WIDTH_M, HEIGHT_M = 2400.0, 1800.0
RIVER_HALF_WIDTH_M = 32.0
QUAY_OFFSET_M = 46.0  # middle of the quay terrace, from the river's centre line
DECK_END_OFFSET_M = 84.0  # where road bridges end
BANK_TOP_OFFSET_M = 80.0  # where the bank has reached the level of the town


def smooth(value: float, low: float, high: float) -> float:
    """Rise from 0 at ``low`` to 1 at ``high`` with level ends."""
    t = min(1.0, max(0.0, (value - low) / (high - low)))
    return t * t * (3 - 2 * t)


def river_y(x: float) -> float:
    """Centre line of the river Quill."""
    return 1000 + 70 * math.sin(2 * math.pi * (x + 200) / 2100) + 25 * math.sin(2 * math.pi * x / 900)


def river_slope(x: float) -> float:
    """Derivative of the centre line."""
    return (river_y(x + 0.5) - river_y(x - 0.5)) / 1.0


def river_offset(x: float, y: float) -> float:
    """Distance from the centre line of the river, north bank positive."""
    return (y - river_y(x)) / math.hypot(1, river_slope(x))


def along_river(x: float, offset_m: float) -> tuple[float, float]:
    """The point at ``offset_m`` from the river's centre line at ``x``, square to the stream."""
    slope = river_slope(x)
    norm = math.hypot(1, slope)
    return x - slope / norm * offset_m, river_y(x) + offset_m / norm


def trunk_y(x: float) -> float:
    """Centre line of the fast road in the north."""
    return 1566 + 18 * math.sin(x / 380)


def _bump(x: float, y: float, centre: tuple[float, float], size: tuple[float, float]) -> float:
    return math.exp(-0.5 * (((x - centre[0]) / size[0]) ** 2 + ((y - centre[1]) / size[1]) ** 2))


def height_m(x: float, y: float) -> float:
    """True height above the (invented) town datum in metres."""
    offset = river_offset(x, y)
    away = abs(offset)
    bank_rise = 3.6 + 0.7 * math.sin(x / 480)
    level = 1.0 + 2.4 * smooth(away, 30, 40) + bank_rise * smooth(away, 52, 78) + 0.006 * max(0.0, away - 78)
    if offset > 0:
        level += 5.0 * smooth(offset, 320, 440)
    else:
        level += 3.0 * smooth(-offset, 220, 320) * smooth(x, 880, 1180)
    level += 51 * _bump(x, y, (480, 360), (300, 235))
    level += 20 * _bump(x, y, (1980, 1700), (250, 240))
    level += 13 * _bump(x, y, (2010, 400), (240, 220))
    town = smooth(away, 80, 140)
    return level + town * 0.3 * math.sin(x / 61 + 1) * math.sin(y / 73)


def gradient(x: float, y: float) -> tuple[float, float]:
    """Uphill direction times grade."""
    step = 2.0
    return ((height_m(x + step, y) - height_m(x - step, y)) / (2 * step), (height_m(x, y + step) - height_m(x, y - step)) / (2 * step))
