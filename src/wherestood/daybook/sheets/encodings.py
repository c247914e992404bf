"""Tell the encoding of a table's bytes, or refuse where that would be a guess.

Bytes that are UTF-8 are hardly ever anything else. Of the older encodings each gives
other letters to the same bytes, so one is taken only where all that give possible words
agree on them; otherwise a person is shown the words and asked.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections.abc import Iterator
from itertools import islice

from wherestood.errors import InputError

__all__ = ["decoded"]

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: Older encodings that tables of museums and offices come in (common practice), the
#: likelier first, and whose they are.
_OLDER = {
    "cp1252": "Western Europe",
    "cp1250": "Central Europe",
    "cp1254": "Turkish",
    "cp1257": "Baltic",
    "iso8859-2": "Central Europe, older",
    "iso8859-15": "Western Europe, older",
    "cp1251": "Cyrillic",
    "koi8-r": "Russian, older",
    "cp866": "Russian, DOS",
    "cp1253": "Greek",
    "cp1255": "Hebrew",
    "cp1256": "Arabic",
    "mac-roman": "Macintosh",
    "mac-latin2": "Central Europe, Macintosh",
    "cp850": "Western Europe, DOS",
    "cp852": "Central Europe, DOS",
    "cp437": "DOS",
    "cp932": "Japanese",
    "euc-jp": "Japanese, Unix",
    "gb18030": "Chinese",
    "big5": "Chinese, traditional",
    "cp949": "Korean",
}
# A word: never parted within a letter of several bytes, whose second is none of these
# signs in any encoding above.
_WORD = re.compile(rb"[^\s,;\"]+")
_LETTER_OF_UTF8 = re.compile(rb"[\xc3-\xc5\xce-\xd3][\x80-\xbf]|\xe2\x80[\x80-\xbf]")
# Letters by their category that no word has: ordinal signs and the florin.
_NO_LETTERS = frozenset("\u00aa\u00ba\u0192\u207f")
_NEVER = frozenset("\N{REPLACEMENT CHARACTER}")
_OPENING = frozenset("\u00a1\u00bf\u201a\u201e\u2020\u2021")  # after no letter
_AT_ENDS = frozenset("\u00a1\u00a7\u00b6\u00bf")  # between no letters
_WITH_MARKS = ("ARABIC", "HEBREW")  # their vowels are marks, no letters
_CONTROLS = re.compile("[\x80-\x9f]")
_WORDS_WEIGHED = 3000
_ODD_SHARE = 0.1
_READINGS_SHOWN = 6
_WORDS_SHOWN = 4


def decoded(name: str, content: bytes, encoding: str | None) -> tuple[str, str]:
    """Return a file's text, and in which encoding it was read.

    Parameters
    ----------
    name : str
        The file's, for what is said of it.
    content : bytes
        All of it.
    encoding : str or None
        As a person named it; found out where None.

    Raises
    ------
    InputError
        If it cannot be read so, or may be read in several ways.
    """
    if encoding is not None:
        return _as_named(name, content, encoding), encoding
    for mark, marked in _MARKS:
        if content.startswith(mark):
            return _by_mark(name, content, marked), marked.removesuffix("-sig")
    try:
        return content.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        pass
    _refuse_mixed(name, content)
    words = _words_beyond_ascii(content)
    possible = _possible(content, words)
    if not possible:
        raise InputError(
            f"The encoding of {name!r} cannot be told; it may be no text at all.",
            "Save it as CSV in UTF-8, or name its encoding with --encoding.",
        )
    readings: dict[tuple[str, ...], str] = {}
    for one in possible:
        spoken = tuple(word.decode(one, "replace") for word in words)
        readings.setdefault(spoken, one)
    if len(readings) > 1:
        raise _undecided(name, readings)
    chosen = possible[0]
    shown = ", ".join(islice(next(iter(readings)), _WORDS_SHOWN))
    return content.decode(chosen), f"{chosen} (no other gives words: {shown})"


def _as_named(name: str, content: bytes, encoding: str) -> str:
    try:
        return content.decode(encoding)
    except LookupError as error:
        raise InputError(
            f"There is no encoding called {encoding!r}.",
            f"Common ones are utf-8, {', '.join(islice(_OLDER, 4))}.",
        ) from error
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"The file {name!r} cannot be read as {encoding}: line {row} holds a byte "
            f"({content[error.start]:#04x}) that is no letter of it.",
            "Leave the encoding out, or name another.",
        ) from error


def _by_mark(name: str, content: bytes, marked: str) -> str:
    try:
        return content.decode(marked)
    except UnicodeDecodeError as error:
        raise InputError(
            f"The file {name!r} begins as {marked} but is not: {error}.",
            "Save it again as CSV in UTF-8.",
        ) from error


def _refuse_mixed(name: str, content: bytes) -> None:
    """Refuse a file of which one cell is UTF-8 and another is not."""
    in_utf8: tuple[int, int, bytes] | None = None
    in_older: tuple[int, int, bytes] | None = None
    for row, column, cell in _cells(content):
        try:
            cell.decode("utf-8")
        except UnicodeDecodeError:
            in_older = in_older or (row, column, cell)
        else:
            if _LETTER_OF_UTF8.search(cell):
                in_utf8 = in_utf8 or (row, column, cell)
        if in_utf8 and in_older:
            break
    if in_utf8 is None or in_older is None:
        return
    (row, column, good), (other_row, other_column, bad) = in_utf8, in_older
    raise InputError(
        f"The file {name!r} seems to be written in two encodings: row {row}, cell "
        f"{column} reads {_shortened(good.decode('utf-8'))!r} in UTF-8, and row "
        f"{other_row}, cell {other_column} is no UTF-8 "
        f"({_shortened(bad.decode('cp1252', 'replace'))!r} in cp1252).",
        "Mend the one or the other and save all of it as UTF-8; or name its one "
        "encoding with --encoding.",
    )


def _cells(content: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Give the cells with letters beyond ASCII, with row and column from 1."""
    text = content.decode("latin-1")  # each byte one letter, and back again
    head = text[:100_000]
    delimiter = max(",;\t|", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    row = 0
    while True:
        row += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            continue
        for column, cell in enumerate(cells, 1):
            if not cell.isascii():
                yield row, column, cell.encode("latin-1")


def _words_beyond_ascii(content: bytes) -> list[bytes]:
    found = (match[0] for match in _WORD.finditer(content))
    return list(dict.fromkeys(word for word in found if not word.isascii()))


def _possible(content: bytes, words: list[bytes]) -> list[str]:
    """Return the encodings in which nearly all words are such as can be."""
    weighed = words[:: len(words) // _WORDS_WEIGHED + 1]
    odd = {}
    for one in _OLDER:
        try:
            text = content.decode(one)
        except UnicodeDecodeError:
            continue
        if not _CONTROLS.search(text):
            odd[one] = sum(_is_odd(word.decode(one, "replace")) for word in weighed)
    few = _ODD_SHARE * len(weighed)
    fewest = min(odd.values(), default=0)
    if fewest > len(weighed) / 2:
        return []
    return [one for one, count in odd.items() if count <= fewest + few]


def _is_odd(word: str) -> bool:
    """Tell whether a word has signs, scripts or capitals where no word has them."""
    scripts = set()
    for place, letter in enumerate(word):
        before, after = word[place - 1 : place], word[place + 1 : place + 2]
        if _is_letter(letter) or _script(letter) in _WITH_MARKS:
            scripts.add(_script(letter))
        if not letter.isascii() and _stands_oddly(letter, before, after):
            return True
    return len(scripts) > 1


def _stands_oddly(letter: str, before: str, after: str) -> bool:
    category = unicodedata.category(letter)
    if category == "Cc" or letter in _NEVER or "\u2500" <= letter <= "\u259f":
        return True
    follows, precedes = _is_letter(before), _is_letter(after)
    if _is_letter(letter):
        # A capital after a small letter, or between a capital and a small one.
        return letter.isupper() and (
            before.islower() or (before.isupper() and after.islower())
        )
    if category == "Sk" or letter in _OPENING:
        return follows
    joins = category in ("Pd", "Pf", "Pi", "Po", "Mn", "Mc") and letter not in _AT_ENDS
    return follows and precedes and not joins


def _is_letter(letter: str) -> bool:
    return (
        bool(letter)
        and unicodedata.category(letter).startswith("L")
        and letter not in _NO_LETTERS
    )


def _script(letter: str) -> str:
    """Return the script of a letter, by the first word of its name."""
    script = unicodedata.name(letter, "?").split(" ", 1)[0].split("-", 1)[0]
    # Japanese writes three scripts together, and half of them wide or narrow.
    return "CJK" if script in ("HIRAGANA", "KATAKANA", "HALFWIDTH") else script


def _undecided(name: str, readings: dict[tuple[str, ...], str]) -> InputError:
    """Say which words differ, and how each encoding reads them."""
    spoken = list(readings)
    differ = [
        place
        for place in range(len(spoken[0]))
        if len({reading[place] for reading in spoken}) > 1
    ]
    differ.sort(key=lambda place: -len({reading[place] for reading in spoken}))
    told = "; ".join(
        f"{encoding} ({_OLDER[encoding]}): "
        + ", ".join(_shortened(reading[place]) for place in differ[:_WORDS_SHOWN])
        for reading, encoding in islice(readings.items(), _READINGS_SHOWN)
    )
    more = len(readings) - _READINGS_SHOWN
    others = f"; {more} more read them otherwise" if more > 0 else ""
    return InputError(
        f"The letters of {name!r} are not in UTF-8, and nothing in it says which these "
        f"are. {told}{others}.",
        f"Say which is right, as with --encoding {next(iter(readings.values()))}; or "
        "save the file as CSV in UTF-8.",
    )


def _shortened(text: str) -> str:
    plain = " ".join(text.split())
    return plain if len(plain) <= 30 else plain[:29] + "\N{HORIZONTAL ELLIPSIS}"
