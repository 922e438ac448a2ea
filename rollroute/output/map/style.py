"""The look of map, link and picture in one table: grounds, inks, and which ink must be read on which ground.

Hues are the colour-blind-safe set of M. Okabe and K. Ito, "Color Universal Design" (2008), given there as RGB.
Shapes carry the meaning; colour repeats it. Every mark stands on a plate of its own (a casing or a filled shape),
so that its contrast does not depend on what happens to lie under it.
"""

from __future__ import annotations

from dataclasses import dataclass

# Okabe and Ito 2008
BLUE, SKY, VERMILLION, GREEN, PURPLE = "#0072B2", "#56B4E9", "#D55E00", "#009E73", "#CC79A7"

LEAST_CONTRAST = 3.0  # WCAG 2.2, success criterion 1.4.11, non-text contrast
LEAST_TEXT_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3

THEMES: dict[str, dict[str, str]] = {
    "light": {
        "paper": "#f6f4ee",
        "panel": "#ffffff",
        "building": "#dbd6cb",
        "building-edge": "#b5ae9f",
        "room": "#ece8df",
        "water": "#cfe0ea",
        "water-hatch": "#8fb0c4",
        "green": "#dfe8d3",
        "road": "#ffffff",
        "road-edge": "#bdb7aa",
        "path": "#8d8675",
        "ink": "#111111",
        "soft-ink": "#4d4a44",
        "plate": "#ffffff",
        "way": BLUE,
        "core": "#ffffff",
        "hazard": VERMILLION,
        "power": GREEN,
        "unknown": PURPLE,
        "link": "#00507d",
        "focus": "#111111",
    },
    "dark": {
        "paper": "#15171a",
        "panel": "#1c1f23",
        "building": "#2d3136",
        "building-edge": "#4a5057",
        "room": "#24282d",
        "water": "#16303f",
        "water-hatch": "#2f5a73",
        "green": "#1d2a20",
        "road": "#3b4047",
        "road-edge": "#565c64",
        "path": "#7d8590",
        "ink": "#f2f2f2",
        "soft-ink": "#c3c7cc",
        "plate": "#0b0c0e",
        "way": SKY,
        "core": "#0b0c0e",
        "hazard": VERMILLION,
        "power": GREEN,
        "unknown": PURPLE,
        "link": "#8fd0ff",
        "focus": "#f2f2f2",
    },
}


@dataclass(frozen=True, slots=True)
class Pairing:
    """An ink, the ground that it is read on, and the contrast it needs there."""

    mark: str
    ink: str
    ground: str
    least: float = LEAST_CONTRAST


PAIRINGS: tuple[Pairing, ...] = (
    Pairing("way on its casing", "way", "plate"),
    Pairing("dashes and dots in the way", "core", "way"),
    Pairing("arrowheads on their casing", "ink", "plate"),
    Pairing("diamond, bar, house, circle: outline on its plate", "ink", "plate"),
    Pairing("figures and letters on a plate", "ink", "plate", LEAST_TEXT_CONTRAST),
    Pairing("inner line of an open question", "unknown", "plate"),
    Pairing("socket", "power", "plate"),
    Pairing("hazard hatch and edge on their casing", "hazard", "plate"),
    Pairing("words on paper", "ink", "paper", LEAST_TEXT_CONTRAST),
    Pairing("words on the panel", "ink", "panel", LEAST_TEXT_CONTRAST),
    Pairing("small words on the panel", "soft-ink", "panel", LEAST_TEXT_CONTRAST),
    Pairing("links on the panel", "link", "panel", LEAST_TEXT_CONTRAST),
    Pairing("street names on a road", "ink", "road", LEAST_TEXT_CONTRAST),
    Pairing("focus ring on the panel", "focus", "panel"),
)


def css_variables() -> str:
    """Give both themes as custom properties; the reader's system chooses."""
    light, dark = (";".join(f"--{name}:{value}" for name, value in THEMES[theme].items()) for theme in ("light", "dark"))
    return (
        f":root{{color-scheme:light dark;{light}}}"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}"
        f"@media print{{:root{{color-scheme:light;{light}}}}}"
    )


def contrast_ratio(one: str, other: str) -> float:
    """Contrast of two colours ``#rrggbb``, from 1 to 21.

    Source: WCAG 2.2, definitions of "contrast ratio" and "relative luminance".

    Examples
    --------
    >>> contrast_ratio("#000000", "#ffffff")
    21.0
    """
    lighter, darker = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def relative_luminance(colour: str) -> float:
    """Luminance of ``#rrggbb``, 0 for black to 1 for white (WCAG 2.2, "relative luminance")."""
    red, green, blue = (_linear(int(colour[i : i + 2], 16) / 255.0) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)
