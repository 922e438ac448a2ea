"""Find, by the syntax tree, every English sentence that the program says."""

from __future__ import annotations

import ast
from pathlib import Path

Message = str | tuple[str, str]


def messages_in(folder: Path) -> dict[Message, str]:
    """Messages of ``say("…")``, ``mark("…")`` and ``say_n("one", "many")`` below ``folder``, with the file that holds them."""
    found: dict[Message, str] = {}
    for file in sorted(folder.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                message = _message(node)
                if message is not None:
                    found.setdefault(message, file.name)
    return found


def _message(call: ast.Call) -> Message | None:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else call.func.id if isinstance(call.func, ast.Name) else ""
    texts = [a.value for a in call.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    if name in {"say", "mark"} and texts and call.args[0] is not None and isinstance(call.args[0], ast.Constant):
        return texts[0]
    if name == "say_n" and len(texts) >= 2:
        return (texts[0], texts[1])
    return None
