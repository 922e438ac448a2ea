"""Small pieces of HTML; whatever comes from a table or a map is escaped and keeps its own direction of writing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from urllib.parse import quote

from markupsafe import Markup

from rollroute.output.plain_text import plain

LONGEST = 600  # letters of one cell


def text(value: object) -> Markup:
    """A value as text; nothing for ``None``."""
    return Markup("") if value is None else Markup("<bdi>{}</bdi>").format(plain(str(value), longest=LONGEST))


def cell(value: object) -> Markup:
    """A value that may already be our own HTML."""
    return value if isinstance(value, Markup) else text(value)


def section(name: str, title: str, *parts: Markup) -> Markup:
    """A section that can be linked to; nothing where it has no content."""
    inside = Markup("").join(parts)
    if not inside:
        return Markup("")
    return Markup('<section id="{0}" aria-labelledby="{0}-title"><h2 id="{0}-title">{1}</h2>{2}</section>').format(name, title, inside)


def table(caption: str, head: Sequence[str], rows: Iterable[Sequence[object]], *, is_titled: bool = False, stacks: bool = False) -> Markup:
    """A table whose first column names its rows; a wide one scrolls by itself, by keyboard too.

    ``is_titled``: the heading above says the same as the caption, which then is there for screen readers only.
    ``stacks``: on a narrow screen each row is a block, with the column's head before each cell.
    """
    heads = Markup("").join(Markup('<th scope="col">{}</th>').format(h) for h in head)
    body = Markup("").join(_row(row, head if stacks else ()) for row in rows)
    if not body:
        return Markup("")
    return Markup(
        '<div class="wide" role="region" tabindex="0" aria-label="{0}"><table{4}><caption{3}>{0}</caption><thead><tr>{1}</tr></thead>'
        "<tbody>{2}</tbody></table></div>"
    ).format(caption, heads, body, Markup(' class="unseen"') if is_titled else "", Markup(' class="stack"') if stacks else "")


def _row(row: Sequence[object], heads: Sequence[str] = ()) -> Markup:
    first = Markup('<th scope="row">{}</th>').format(cell(row[0]))
    before = [Markup(' data-head="{}"').format(h) for h in heads[1:]] or [Markup("")] * (len(row) - 1)
    cells = (Markup("<td{}>{}</td>").format(head, cell(c)) for head, c in zip(before, row[1:], strict=True))
    return Markup("<tr>{}{}</tr>").format(first, Markup("").join(cells))


def bullets(items: Iterable[object]) -> Markup:
    """A list; nothing where it is empty."""
    rows = Markup("").join(Markup("<li>{}</li>").format(cell(i)) for i in items if i)
    return Markup("<ul>{}</ul>").format(rows) if rows else rows


def terms(rows: Iterable[tuple[str, object]]) -> Markup:
    """Terms and what they are; those without a value are left out."""
    pairs = [Markup("<dt>{}</dt><dd>{}</dd>").format(name, shown) for name, value in rows if (shown := cell(value))]
    return Markup("<dl>{}</dl>").format(Markup("").join(pairs)) if pairs else Markup("")


def folded(summary: str, inside: Markup, *, is_printed: bool = True) -> Markup:
    """Something that opens on request; on paper it is open, or with ``is_printed`` false left away."""
    kind = Markup("") if is_printed else Markup(' class="screen"')
    return Markup("<details{}><summary>{}</summary>{}</details>").format(kind, summary, inside) if inside else Markup("")


def link(address: str, words: str) -> Markup:
    """A link to a file of this folder."""
    return Markup('<a href="{}">{}</a>').format(quote(address), words)
