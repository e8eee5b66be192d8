"""Find what a browser file refers to: imports and asset URLs in JS, `url()` in CSS.

Pure text in, spans out. `web_assets.py` uses it to put content hashes into relative references.
A scanner, not a parser: it knows comments, strings, template literals and regular expressions
just well enough that an import named in a JSDoc comment is never taken for a real one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@dataclass(frozen=True, slots=True)
class Reference:
    """One relative reference: `text[start:end]` is the path as written, without its quotes."""

    start: int
    end: int
    path: str
    is_static: bool  # a static import, which the browser must have before the module runs


_STATIC = re.compile(
    r"""(?:\b(?:import|export)\b[\s\w$*{},]*?\bfrom|\bimport)\s*(?P<q>["'])(?P<path>\.{1,2}/[^"'\n]+)(?P=q)"""
)
_DYNAMIC = re.compile(
    r"""(?:\bimport\(|\bnew URL\()\s*(?P<q>["'])(?P<path>\.{1,2}/[^"'\n]+)(?P=q)"""
)
_CSS_URL = re.compile(
    r"""(?:url\(\s*|@import\s+)(?P<q>["']?)(?P<path>(?![a-z]+:|#|/)[^"')\s]+)(?P=q)"""
)
_CSS_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_REGEX = re.compile(r"/(?![*/])(?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n\[])+/[a-z]*")
# After one of these a slash opens a regular expression; after anything else it divides.
_BEFORE_REGEX = re.compile(
    r"(?:[(,=:\[!&|?{};+\-*%~^<>]|\b(?:return|typeof|case|in|of))\s*\Z|\A\s*\Z"
)

# Runs in which nothing begins or ends; to step over them one by one took most of a server's start.
_PLAIN_CODE = re.compile(r"""[^"'`/{}]+""")
_PLAIN_TEMPLATE = re.compile(r"[^\\`$]+")


def _code_regions(source: str) -> Iterator[tuple[int, int]]:
    """Yield the (start, end) spans of code, quoted strings included, comments and templates not."""
    depth: list[int] = []  # brace depth at which each open template's ${ ends
    braces = 0
    start = at = 0
    while at < len(source):
        if plain := _PLAIN_CODE.match(source, at):
            at = plain.end()
            continue
        char, pair = source[at], source[at : at + 2]
        if pair == "//":
            yield start, at
            at = _after(source, "\n", at)
            start = at
        elif pair == "/*":
            yield start, at
            at = _after(source, "*/", at + 2)
            start = at
        elif char in "\"'":
            at = _end_of_string(source, at)
        elif char == "`" or (char == "}" and depth and depth[-1] == braces):
            if char == "}":
                depth.pop()
            yield start, at
            at, opens = _end_of_template_chunk(source, at + 1)
            if opens:
                depth.append(braces)
            start = at
        elif char == "/" and _BEFORE_REGEX.search(source[max(start, at - 40) : at]):
            match = _REGEX.match(source, at)
            at = match.end() if match else at + 1
        else:
            braces += (char == "{") - (char == "}")
            at += 1
    yield start, len(source)


def _after(source: str, mark: str, at: int) -> int:
    found = source.find(mark, at)
    return len(source) if found < 0 else found + len(mark)


def _end_of_string(source: str, at: int) -> int:
    quote = source[at]
    at += 1
    while at < len(source) and source[at] not in (quote, "\n"):
        at += 2 if source[at] == "\\" else 1
    return at + 1


def _end_of_template_chunk(source: str, at: int) -> tuple[int, bool]:
    """Return where the template's text ends, and whether it ends by opening `${`."""
    while at < len(source):
        if plain := _PLAIN_TEMPLATE.match(source, at):
            at = plain.end()
        elif source[at] == "\\":
            at += 2
        elif source[at] == "`":
            return at + 1, False
        elif source.startswith("${", at):
            return at + 2, True
        else:
            at += 1
    return at, False


def references_in_js(source: str) -> list[Reference]:
    """Return the relative imports (static and dynamic) and `new URL("./x", ...)` of a module."""
    found = []
    for start, end in _code_regions(source):
        for pattern, is_static in ((_STATIC, True), (_DYNAMIC, False)):
            for match in pattern.finditer(source, start, end):
                span = match.span("path")
                found.append(Reference(span[0], span[1], match["path"], is_static))
    return sorted(found, key=lambda reference: reference.start)


def references_in_css(source: str) -> list[Reference]:
    """Return the relative `url()` and `@import` targets of a style sheet."""
    blanked = _CSS_COMMENT.sub(lambda match: " " * len(match[0]), source)
    return [
        Reference(match.start("path"), match.end("path"), match["path"], is_static=False)
        for match in _CSS_URL.finditer(blanked)
    ]
