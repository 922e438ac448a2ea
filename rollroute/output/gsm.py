"""The 7-bit alphabet of text messages, and how other letters are brought into it.

Source: 3GPP TS 23.038 (GSM 03.38), section 6.2.1: default alphabet, and its extension table, whose characters count double.
"""

from __future__ import annotations

import unicodedata

# In the order of the table, 0x00 .. 0x7F; the escape to the extension table (0x1B) stands as a form feed that no text holds.
BASIC = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞ\fÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
ALPHABET = frozenset(BASIC) - {"\f", "\n", "\r"}
EXTENSION = frozenset("^{}\\[~]|€")
SEPTETS_PER_MESSAGE = 160  # TS 23.040, section 9.2.3.16: 140 octets of user data

# Letters that do not come apart into a Latin letter and an accent; plain spelling as on road signs (common practice).
_PLAIN = dict(
    zip("ÐðŁłĐđŒœÞþŠšŽžıĦħŊŋŦŧ", ["D", "d", "L", "l", "D", "d", "OE", "oe", "Th", "th", "S", "s", "Z", "z", "i", *"HhNnTt"], strict=True)
)
_PLAIN |= {"’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "...", "°": " deg", "´": "'", "\u00a0": " ", "×": "x"}
_CYRILLIC = (
    "а a б b в v г g д d е e ё e ж zh з z и i й i к k л l м m н n о o п p р r с s т t у u ф f х kh ц ts ч ch ш sh щ shch "
    "ъ - ы y ь - э e ю iu я ia і i ї i є ie ґ g"
)
_GREEK = "α a β v γ g δ d ε e ζ z η i θ th ι i κ k λ l μ m ν n ξ x ο o π p ρ r σ s ς s τ t υ y φ f χ ch ψ ps ω o"
for _letters in (_CYRILLIC, _GREEK):
    _pairs = _letters.split()
    _PLAIN |= {a: "" if b == "-" else b for a, b in zip(_pairs[::2], _pairs[1::2], strict=True)}


def septets(text: str) -> int:
    """How many of the 160 places ``text`` takes.

    Raises
    ------
    ValueError
        If a character is not in the alphabet.

    Examples
    --------
    >>> septets("K7 [1]")
    8
    """
    total = 0
    for letter in text:
        if letter not in ALPHABET and letter not in EXTENSION:
            raise ValueError(f"{letter!r} is not in the GSM 7-bit alphabet")
        total += 2 if letter in EXTENSION else 1
    return total


def to_gsm(text: str) -> str:
    """Bring ``text`` into the alphabet: accents that it lacks fall off, Cyrillic and Greek are spelt in Latin letters, the rest is dropped.

    Examples
    --------
    >>> to_gsm("Çınar Sokağı"), to_gsm("Ленина"), to_gsm("河边路 12")
    ('Çinar Sokagi', 'Lenina', '12')
    """
    return " ".join("".join(_letter(c) for c in unicodedata.normalize("NFC", text)).split())


def is_lossy(text: str) -> bool:
    """Whether ``to_gsm`` drops letters of ``text`` altogether, so that the name can't be told from it."""
    return any(c.isalnum() and not _letter(c) for c in unicodedata.normalize("NFC", text) if c.lower() not in _PLAIN)


def _letter(letter: str) -> str:
    if letter in ALPHABET or letter in EXTENSION:
        return letter
    for plain in (letter, letter.lower(), unicodedata.normalize("NFD", letter.lower())[0]):
        if plain in _PLAIN:
            spelt: str = _PLAIN[plain]
            return spelt.capitalize() if letter.isupper() and plain != letter else spelt
    stem: str = unicodedata.normalize("NFKD", letter)[0]
    return stem if stem in ALPHABET or stem in EXTENSION else " " if letter.isspace() else ""
