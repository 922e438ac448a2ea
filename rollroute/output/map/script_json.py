"""JSON that may stand inside a script of a page."""

from __future__ import annotations

import json
from typing import Any

from markupsafe import Markup


def script_json(data: Any) -> Markup:
    r"""Give ``data`` as JSON that can't end a script or an HTML comment, whatever the strings in it hold.

    Examples
    --------
    >>> print(script_json(["</script>"]))
    ["\u003c/script\u003e"]
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)
