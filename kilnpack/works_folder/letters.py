"""Codes that look like others: letters of several scripts in one code, and letters of one that look like another's.

References
----------
`uts-39`: section 4, skeletons; section 5.2, restriction level "highly restrictive"; section 5.3, digits of one kind.
"""

from __future__ import annotations

import unicodedata

_TOGETHER = (
    frozenset({"LATIN", "CJK", "HIRAGANA", "KATAKANA"}),
    frozenset({"LATIN", "CJK", "BOPOMOFO"}),
    frozenset({"LATIN", "CJK", "HANGUL"}),
)
"""Scripts that are written together."""
_ALIKE = str.maketrans(
    "\u0410\u0412\u0415\u0405\u0406\u0408\u041a\u041c\u041d\u041e\u0420\u0421\u0422\u0425\u0423\u0430\u0435\u043e\u0440\u0441\u0445\u0443\u0456\u0458\u0455"
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5\u03a7\u03bf\u03bd",
    "ABESIJKMHOPCTXYaeopcxyijsABEZHIKMNOPTYXov",
)
"""Cyrillic and Greek letters, and the Latin ones that no eye tells from them; picked by hand, the common ones."""


def script_of(letter: str) -> str:
    """Return the script of a letter as its name begins, such as ``LATIN``; empty for what is no letter."""
    if not letter.isalpha():
        return ""
    name = unicodedata.name(letter, "UNNAMED").partition(" ")[0]
    return "KATAKANA" if name.startswith("KATAKANA") else name


def letters_fault(code: str) -> str:
    """Return what is wanted of a code whose letters could be taken for others, nothing where none could."""
    if code.isascii():
        return ""
    for sign in code:
        plain = unicodedata.normalize("NFKC", sign)
        if plain != sign:
            return f"a code of plain letters and digits; {sign} (U+{ord(sign):04X}) is another form of {plain}"
    scripts = {script_of(sign): sign for sign in reversed(code) if script_of(sign)}
    if len(scripts) > 1 and not any(scripts.keys() <= allowed for allowed in _TOGETHER):
        counts = {script: sum(script_of(sign) == script for sign in code) for script in scripts}
        odd = min(sorted(counts), key=lambda script: (counts[script], script == "LATIN"))
        others = " and ".join(sorted(script.title() for script in scripts if script != odd))
        sign = scripts[odd]
        return f"a code in one script; {sign} (U+{ord(sign):04X}) is {odd.title()} among {others} letters"
    digits = {ord(sign) - unicodedata.decimal(sign) for sign in code if sign.isdecimal()}
    return "a code with digits of one kind" if len(digits) > 1 else ""


def looks_like(code: str) -> str:
    """Return a code with Latin letters in the place of those that look the same: two codes alike have one such form."""
    return code if code.isascii() else code.translate(_ALIKE)
