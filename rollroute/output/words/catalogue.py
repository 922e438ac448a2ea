"""Message catalogues: one ``.po`` file per language beside this module, read as it stands, nothing compiled.

The English sentence is the key. A new language is one file ``locale/<code>.po``.
The test ``tests/output/test_words.py`` lists every sentence that it still lacks.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from rollroute.errors import InputError

FOLDER = Path(__file__).parent / "locale"
SOURCE_LANGUAGE = "en"
LANGUAGES = (SOURCE_LANGUAGE, *sorted(p.stem for p in FOLDER.glob("*.po")))


def mark(message: str) -> str:
    """Mark ``message`` for translation where a table holds it; it is looked up when it is said."""
    return message


@lru_cache(maxsize=16)
def read_catalogue(language: str) -> dict[str, str | tuple[str, ...]]:
    """Read the messages of ``language``: English to translation, plural forms as a tuple. English needs no file.

    Raises
    ------
    InputError
        If there is no catalogue for the language.
    """
    if language == SOURCE_LANGUAGE:
        return {}
    if language not in LANGUAGES:
        raise InputError(f"language: no words for {language!r}. Give one of {', '.join(LANGUAGES)}.")
    from babel.messages.pofile import read_po

    with (FOLDER / f"{language}.po").open("rb") as file:
        messages = list(read_po(file, locale=language))
    return {_key(m.id): m.string if isinstance(m.string, str) else tuple(m.string) for m in messages if m.id and m.string and not m.fuzzy}


@lru_cache(maxsize=16)
def decimal_sign(language: str) -> str:
    """Sign between whole and tenths in ``language``."""
    if language == SOURCE_LANGUAGE:
        return "."
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(language))


def _key(message: str | tuple[str, ...] | list[str]) -> str:
    return message if isinstance(message, str) else message[0]
