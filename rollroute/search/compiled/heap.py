"""A four-way heap of (key, number) in two arrays. What leaves first among equal keys depends on the input alone."""

from __future__ import annotations

from rollroute.search.compiled.kernel import kernel, part


@kernel
def push(keys, items, size, key, item):  # type: ignore[no-untyped-def]
    """Put one item in; the arrays must have room. Returns the new size."""
    i = size
    while i > 0:
        parent = (i - 1) >> 2
        if keys[parent] <= key:
            break
        keys[i] = keys[parent]
        items[i] = items[parent]
        i = parent
    keys[i] = key
    items[i] = item
    return size + 1


@part
def drop_first(keys, items, size):  # type: ignore[no-untyped-def]
    """Take the first item (``keys[0], items[0]``) out. Returns the new size."""
    size -= 1
    key = keys[size]
    i = 0
    first = 1
    while first < size:
        best, least = first, keys[first]
        for child in range(first + 1, min(first + 4, size)):
            if keys[child] < least:
                best, least = child, keys[child]
        if key <= least:
            break
        keys[i] = least
        items[i] = items[best]
        i = best
        first = 4 * i + 1
    keys[i] = key
    items[i] = items[size]
    return size
