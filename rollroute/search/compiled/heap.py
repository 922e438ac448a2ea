"""A four-way heap of (key, number) in two arrays; equal keys leave in the order of their numbers, so ties break the same way every time."""

from __future__ import annotations

from rollroute.search.compiled.kernel import kernel, part


@kernel
def push(keys, items, size, key, item):  # type: ignore[no-untyped-def]
    """Put one item in; the arrays must have room. Returns the new size."""
    i = size
    while i > 0:
        parent = (i - 1) >> 2
        if keys[parent] < key or (keys[parent] == key and items[parent] <= item):
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
    item = items[size]
    i = 0
    while True:
        first = 4 * i + 1
        if first >= size:
            break
        best = first
        for child in range(first + 1, min(first + 4, size)):
            if keys[child] < keys[best] or (keys[child] == keys[best] and items[child] < items[best]):
                best = child
        if key < keys[best] or (key == keys[best] and item <= items[best]):
            break
        keys[i] = keys[best]
        items[i] = items[best]
        i = best
    keys[i] = key
    items[i] = item
    return size
