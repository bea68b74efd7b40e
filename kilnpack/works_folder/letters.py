"""Codes that look like others: signs that nobody sees, letters of several scripts, letters that look like another's.

References
----------
`uts-39`: section 4, skeletons; section 5.2, restriction level "highly restrictive"; section 5.3, digits of one kind.
`uax-15`: a letter with its mark as one sign (form NFC), and other forms of a letter (form NFKC).
"""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

_TOGETHER = (
    frozenset({"LATIN", "CJK", "HIRAGANA", "KATAKANA"}),
    frozenset({"LATIN", "CJK", "BOPOMOFO"}),
    frozenset({"LATIN", "CJK", "HANGUL"}),
)
"""Scripts that are written together."""
_LIKE = {
    "a": "\u0251\u03b1\u0430", "b": "\u0184", "c": "\u1d04\u0441", "d": "\u0501", "e": "\u0435\u04bd",
    "f": "\u0584", "g": "\u018d\u0261\u1d83\u0581", "h": "\u04bb\u0570",
    "i": "\u0131\u0269\u026a\u03b9\u0456\u04cf", "j": "\u03f3\u0458", "l": "\u01c0", "n": "\u0578\u057c",
    "o": "\u1d0f\u1d11\u03bf\u03c3\u043e\u0585", "p": "\u03c1\u0440", "q": "\u051b\u0563\u0566", "r": "\u0433\u1d26",
    "s": "\u01bd\u0455", "u": "\u028b\u1d1c\u03c5\u057d", "v": "\u1d20\u03bd\u0475",
    "w": "\u026f\u1d21\u0461\u051d\u0561", "x": "\u0445", "y": "\u0263\u028f\u1d8c\u03b3\u0443\u04af", "z": "\u1d22",
    "A": "\u0391\u0410", "B": "\u0392\u0412", "C": "\u0421", "E": "\u0395\u0415", "F": "\u03dc", "G": "\u050c",
    "H": "\u0397\u041d", "I": "\u0196\u0399\u0406\u04c0", "J": "\u037f\u0408", "K": "\u039a\u041a",
    "M": "\u039c\u03fa\u041c", "N": "\u039d", "O": "\u039f\u041e\u0555", "P": "\u03a1\u0420", "R": "\u01a6",
    "S": "\u0405\u054f", "T": "\u03a4\u0422", "U": "\u054d", "V": "\u0474", "W": "\u051c", "X": "\u03a7\u0425",
    "Y": "\u03a5\u04ae\u0423", "Z": "\u0396", "2": "\u01a7", "3": "\u01b7\u021c\u0417\u04e0", "5": "\u01bc",
    "6": "\u0431", "8": "\u0222\u0223",
    # Chinese signs and those of kana, and the one syllable that both kana write alike.
    "\u4e8c": "\u30cb", "\u516b": "\u30cf", "\u529b": "\u30ab", "\u535c": "\u30c8", "\u53e3": "\u30ed",
    "\u5915": "\u30bf", "\u5de5": "\u30a8", "\u4ebb": "\u30a4", "\u4e00": "\u30fc", "\u3078": "\u30d8",
    # Digits of Arabic script and of Persian, those with one shape.
    "\u0660": "\u06f0", "\u0661": "\u06f1", "\u0662": "\u06f2", "\u0663": "\u06f3", "\u0667": "\u06f7",
    "\u0668": "\u06f8", "\u0669": "\u06f9",
}  # fmt: skip
"""Signs by the plain one that no eye tells from them: of Latin, Greek, Cyrillic and Armenian script those that
`uts-39` names with one Latin letter or digit. Plain ones that look alike (O and 0, I and 1) are not in it."""
_PLAIN = str.maketrans({sign: plain for plain, signs in _LIKE.items() for sign in signs})
_EMPTY = "\u115f\u1160\u3164\uffa0"
"""Letters by their kind, fillers of Hangul, that show nothing."""


def script_of(letter: str) -> str:
    """Return the script of a letter as its name begins, such as ``LATIN``; empty for what is no letter."""
    if not letter.isalpha():
        return ""
    name = unicodedata.name(letter, "UNNAMED").partition(" ")[0]
    if name == "IDEOGRAPHIC":  # the sign that repeats a Chinese one, and its like
        return "CJK"
    return "KATAKANA" if name.startswith("KATAKANA") else name


def letters_fault(code: str) -> str:
    """Return what is wanted of a code whose letters could be taken for others, nothing where none could."""
    if code.isascii():
        return ""
    looks = (_unseen, _apart, _other_form, _no_letter, _scripts, _digits)
    return next((wanted for look in looks for wanted in look(code)), "")


def looks_like(code: str) -> str:
    """Return a code with plain letters in the place of those that look the same: two codes alike have one such form."""
    if code.isascii():
        return code
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", code).translate(_PLAIN))


def alike_wanted(code: str, other: str) -> str:
    """Return what is wanted of a code that looks like another of its list."""
    return f"a code of its own; {other} looks the same, in other letters: {told_apart(code, other)}"


def code_faults(codes: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield codes of a list that could be taken for others, and what is wanted of each."""
    wanted = {code: letters_fault(code) for code in codes}
    yield from ((code, said) for code, said in wanted.items() if said)
    sound = [code for code, said in wanted.items() if not said]
    yield from ((code, alike_wanted(code, other)) for code, other in alike_in(sound))


def told_apart(code: str, other: str) -> str:
    """Return the first letter in which two codes that look the same differ, with both numbers."""
    here, there = next((one, two) for one, two in zip(code, other, strict=False) if one != two)
    return f"{_numbered(here)} here, {_numbered(there)} there"


def alike_in(codes: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield codes of a list that look like an earlier one and are not it, with the earlier one."""
    seen: dict[str, str] = {}
    for code in codes:
        first = seen.setdefault(looks_like(code), code)
        if first != code:
            yield code, first


def _numbered(sign: str) -> str:
    return f"{sign} (U+{ord(sign):04X})"


def _named(sign: str) -> str:
    return f"U+{ord(sign):04X} ({unicodedata.name(sign, 'without a name')})"


def _unseen(code: str) -> Iterator[str]:
    """Spaces of all kinds, joiners, marks of direction, selectors of a form, fillers."""
    for at, sign in enumerate(code):
        name = unicodedata.name(sign, "")
        hidden = unicodedata.category(sign)[0] in "CZ" or sign in _EMPTY or "VARIATION SELECTOR" in name
        if not sign.isascii() and (hidden or sign == "\u034f"):
            place = f"behind {code[at - 1]}" if at else "at its beginning"
            yield f"a code without signs that nobody sees; {_named(sign)} stands {place}"


def _apart(code: str) -> Iterator[str]:
    """A letter and its mark, or the parts of a syllable, as signs of their own."""
    one = unicodedata.normalize("NFC", code)
    if one != code:
        at = next((k for k, (a, b) in enumerate(zip(one, code, strict=False)) if a != b), 0)
        for part in (code[at:end] for end in range(at + 1, len(code) + 1)):
            if unicodedata.normalize("NFC", part) == one[at]:
                signs = " ".join(f"U+{ord(sign):04X}" for sign in part)
                yield f"a code with {_numbered(one[at])} as one sign; it is written as {signs}"


def _other_form(code: str) -> Iterator[str]:
    for sign in code:
        plain = unicodedata.normalize("NFKC", sign)
        if plain != sign:
            yield f"a code of plain letters and digits; {_numbered(sign)} is another form of {plain}"


def _no_letter(code: str) -> Iterator[str]:
    """Marks that make no letter with what they stand on, dashes, points and other signs."""
    for sign in code:
        if not sign.isascii() and not sign.isalnum():
            yield f"a code of letters, digits and . _ - / +; {_named(sign)} is none of them"


def _scripts(code: str) -> Iterator[str]:
    scripts = {script_of(sign): sign for sign in reversed(code) if script_of(sign)}
    if len(scripts) > 1 and not any(scripts.keys() <= allowed for allowed in _TOGETHER):
        counts = {script: sum(script_of(sign) == script for sign in code) for script in scripts}
        odd = min(sorted(counts), key=lambda script: (counts[script], script == "LATIN"))
        others = " and ".join(sorted(script.title() for script in scripts if script != odd))
        yield f"a code in one script; {_numbered(scripts[odd])} is {odd.title()} among {others} letters"


def _digits(code: str) -> Iterator[str]:
    kinds = {ord(sign) - unicodedata.decimal(sign): sign for sign in reversed(code) if sign.isdecimal()}
    if len(kinds) > 1:
        sign = kinds[max(kinds)]
        yield f"a code with digits of one kind; {_named(sign)} is of another"
