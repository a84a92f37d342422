"""Writing to a terminal: text that came from a spreadsheet must not move the cursor, hide lines or turn text around."""

from __future__ import annotations

import json
import sys
import unicodedata
from typing import Any


def _shown(code: int) -> str:
    """Return how a control character is shown: its picture where Unicode has one, else its number."""
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7F else f"\\u{code:04x}"


#: Control characters (Cc) and the marks that turn or hide text (Cf, as right-to-left override), but for line and tab.
_UNSAFE = {code: _shown(code) for code in range(0x10000) if unicodedata.category(chr(code)) in ("Cc", "Cf", "Zl", "Zp")}
_IN_TEXT = {code: shown for code, shown in _UNSAFE.items() if chr(code) not in "\n\t"}
_IN_JSON = {code: f"\\u{code:04x}" for code in _IN_TEXT}


def visible(text: str) -> str:
    """Return the text with every control character and every mark that turns or hides text made visible."""
    return text.translate(_IN_TEXT)


def say(text: object = "", *, error: bool = False) -> None:
    """Write one line to standard output, or to standard error, with nothing in it that a terminal would obey."""
    print(visible(str(text)), file=sys.stderr if error else sys.stdout)


def say_json(value: Any) -> None:
    """Write a value as JSON; such characters are escaped, so that a program reads them as they stood."""
    print(json.dumps(value, indent=1, ensure_ascii=False).translate(_IN_JSON))
