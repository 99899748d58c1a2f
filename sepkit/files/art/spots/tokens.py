"""A content stream as operations, each with the bytes it was written in, so that what is not touched stays as it was.

In: the bytes of a content stream. Out: Operations. Source: ISO 32000-1:2008, 7.2 (lexical conventions), 7.8.2 (content
streams), 8.9.7 (inline images).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

_SPACE = rb"\x00\t\n\x0c\r "
_REGULAR = rb"[^\x00\t\n\x0c\r ()<>\[\]{}/%]"
_TOKEN = re.compile(
    rb"[" + _SPACE + rb"]+|%[^\r\n]*|(?P<string>\()|(?P<mark><<|>>|[\[\]{}])|(?P<hex><[^>]*>?)"
    rb"|(?P<name>/" + _REGULAR + rb"*)|(?P<word>" + _REGULAR + rb"+)|[)>]"
)
_IN_STRING = re.compile(rb"\\.|[()]", re.DOTALL)
_NUMBER = re.compile(rb"[+-]*(?:\d+\.?\d*|\.\d+)(?:-\d*)?$")
_END_OF_IMAGE = re.compile(rb"[" + _SPACE + rb"]EI(?=[" + _SPACE + rb"]|$)")
_ESCAPE = re.compile(rb"#([0-9A-Fa-f]{2})")
_VALUES = frozenset({b"true", b"false", b"null"})
MOST_DEPTH = 64


@dataclass(frozen=True, slots=True)
class Operation:
    """One operator with its operands; an inline image is one operation ``BI`` with its dictionary as operands."""

    name: bytes
    operands: tuple[bytes, ...]
    """As written; arrays, dictionaries and strings are one operand each."""
    raw: bytes
    data: bytes = b""
    """Of an inline image: what stands between ID and EI."""


def operations(text: bytes) -> Iterator[Operation]:
    """Yield the operations of a content stream; what is broken is passed over, as viewers do."""
    at, start = 0, 0
    operands: list[bytes] = []
    while (token := _TOKEN.match(text, at)) is not None:
        kind, begin, at = token.lastgroup, token.start(), token.end()
        if kind == "string":
            at = _string_end(text, at)
        elif kind == "mark" and token[0] in (b"[", b"<<"):
            at = _closed(text, at)
        word = token[0] if kind == "word" else b""
        if word and not is_number(word) and word not in _VALUES:
            if word == b"BI":
                image, at = _inline_image(text, start, at)
                if image is None:
                    return
                yield image
            else:
                yield Operation(word, tuple(operands), text[start:at])
            operands, start = [], at
        elif kind is not None:
            operands.append(text[begin:at])


def is_number(word: bytes) -> bool:
    """Tell whether an operand is a number."""
    return _NUMBER.match(word) is not None


def numbers(operands: tuple[bytes, ...]) -> tuple[float, ...]:
    """Return the operands that are numbers.

    >>> numbers((b"1", b".5", b"/P1"))
    (1.0, 0.5)
    """
    return tuple(_value(word) for word in operands if is_number(word))


def name_of(operand: bytes) -> str:
    """Return a name as objects are keyed by it, with its slash.

    >>> name_of(b"/Sea#20Blue")
    '/Sea Blue'
    """
    plain = _ESCAPE.sub(lambda found: bytes([int(found[1], 16)]), operand)
    try:
        return plain.decode("utf-8")
    except UnicodeDecodeError:
        return plain.decode("latin-1")


def _value(word: bytes) -> float:
    try:
        return float(word)
    except ValueError:
        return 0.0  # as "--5" or "1.2-3": viewers read anything


def _string_end(text: bytes, at: int) -> int:
    """Return where the string ends whose parenthesis was opened before ``at``."""
    depth = 1
    for found in _IN_STRING.finditer(text, at):
        if found[0] == b"(":
            depth += 1
        elif found[0] == b")":
            depth -= 1
            if not depth:
                return found.end()
    return len(text)


def _closed(text: bytes, at: int) -> int:
    """Return where the array or dictionary ends that was opened before ``at``."""
    depth = 1
    while (token := _TOKEN.match(text, at)) is not None:
        at = token.end()
        if token.lastgroup == "string":
            at = _string_end(text, at)
        elif token[0] in (b"[", b"<<"):
            depth += 1
            if depth > MOST_DEPTH:
                raise ValueError("brackets nest too deep")
        elif token[0] in (b"]", b">>"):
            depth -= 1
            if not depth:
                break
    return at


def _inline_image(text: bytes, start: int, at: int) -> tuple[Operation | None, int]:
    """Return the inline image that BI opened, and where it ends; None when it does not end."""
    entries: list[bytes] = []
    while (token := _TOKEN.match(text, at)) is not None:
        begin, at = token.start(), token.end()
        if token.lastgroup == "string":
            at = _string_end(text, at)
        elif token[0] in (b"[", b"<<"):
            at = _closed(text, at)
        if token[0] == b"ID":
            end = _END_OF_IMAGE.search(text, at)
            if end is None:
                return None, len(text)
            return Operation(b"BI", tuple(entries), text[start : end.end()], text[at + 1 : end.start()]), end.end()
        if token.lastgroup is not None:
            entries.append(text[begin:at])
    return None, len(text)
