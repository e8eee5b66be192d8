"""The browser's files, made ready once at start: hashed URLs, precache list, release, headers.

Pure preparation without Flask; `web.py` serves the result. Each file under web/app gets the URL
`/app/<path>?v=<hash>`. The hash covers the file *after* the references inside it were rewritten,
so a change anywhere below a module changes the URL of everything that imports it, and a cached
file can be kept for ever. Start reading at `WebAssets`.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import posixpath
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tepal.api.web_references import Reference, references_in_css, references_in_js
from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

INDEX, WORKER, MANIFEST = "index.html", "sw.js", "manifest.webmanifest"
# Suffix -> type as sent. A suffix that is not listed stays in the repository and is not served.
TYPES = {
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
}
_COMPRESSED_ALREADY = {".png", ".woff2"}
_HASH_LENGTH = 16  # hex digits: 64 bits, far beyond chance for a few hundred files
_APP_URL = re.compile(r"""(?<=["'])/app/(?P<path>[\w./-]+)(?=["'])""")
_IMPORT_MAP = re.compile(r'<script type="importmap">(?P<json>.*?)</script>', re.DOTALL)
_ENTRY = re.compile(r'<script type="module" src="/app/(?P<path>[\w./-]+)"')
_PRELOAD_PLACE = "<!-- modulepreload -->"
_RELEASE_PLACE = "RELEASE_DIGEST"
_PRECACHE_PLACE = "const PRECACHE = [];"


class WebAssetsError(TepalError):
    """The web folder can't be served: the message names the file and what is wrong in it."""


@dataclass(frozen=True, slots=True)
class WebFile:
    """One file ready to send. `path` is relative to web/app; `gzipped` is None where useless."""

    path: str
    type: str
    body: bytes
    gzipped: bytes | None
    digest: str

    @property
    def url(self) -> str:
        """The hashed URL under which the file may be cached for ever."""
        return f"/app/{self.path}?v={self.digest}"


class WebAssets:
    """The whole of web/app as it goes over the wire.

    Parameters
    ----------
    root : Path     The folder web/app.

    Attributes
    ----------
    release : str                   16 hex digits over every path and byte of web/app.
    files : Mapping[str, WebFile]   By path relative to root; without the worker.
    index_html, worker : WebFile    The page for every client route; the service worker.
    csp : str                       Content-Security-Policy with the import map's hash.

    Raises
    ------
    WebAssetsError   `web.missing` (a reference to a file that is not there), `web.cycle` (modules
                     import each other, the circle named), `web.place` (a marker is missing).
    """

    def __init__(self, root: Path) -> None:
        self._sources = {
            path.relative_to(root).as_posix(): path.read_bytes()
            for path in sorted(root.rglob("*"))
            if path.is_file() and path.suffix in TYPES
        }
        for needed in (INDEX, WORKER, MANIFEST):
            if needed not in self._sources:
                raise WebAssetsError("web.missing", f"{root / needed} is missing", path=needed)
        self.release = _release_digest(self._sources)
        self._done: dict[str, WebFile] = {}
        self._static: dict[str, list[str]] = {}
        for path in self._sources:
            if path not in (INDEX, WORKER):
                self._prepare(path, ())
        self._import_map = ""
        self.index_html = self._prepare_index()
        self._done[INDEX] = self.index_html
        self.worker = self._prepare_worker()
        self.files: Mapping[str, WebFile] = dict(self._done)
        self.csp = _content_security_policy(self._import_map)

    def _prepare(self, path: str, open_paths: tuple[str, ...]) -> WebFile:
        """Rewrite one file after everything that it refers to, and remember the result."""
        if path in self._done:
            return self._done[path]
        if path in open_paths:
            circle = " -> ".join([*open_paths[open_paths.index(path) :], path])
            raise WebAssetsError("web.cycle", f"modules import each other: {circle}", circle=circle)
        body = self._sources[path]
        suffix = posixpath.splitext(path)[1]
        if suffix == ".js" and not path.startswith("vendor/"):
            # vendored files are single files that know each other by bare name only
            body = self._rewrite(path, references_in_js(body.decode()), open_paths)
        elif suffix == ".css":
            body = self._rewrite(path, references_in_css(body.decode()), open_paths)
        elif suffix == ".webmanifest":
            body = self._rewrite_app_urls(path, body.decode()).encode()
        self._done[path] = _web_file(path, body)
        return self._done[path]

    def _rewrite(
        self, path: str, references: list[Reference], open_paths: tuple[str, ...]
    ) -> bytes:
        source = self._sources[path].decode()
        folder = posixpath.dirname(path)
        parts: list[str] = []
        at = 0
        for reference in references:
            target = posixpath.normpath(posixpath.join(folder, reference.path))
            if target not in self._sources:
                raise WebAssetsError(
                    "web.missing",
                    f"{path} refers to {reference.path}, but web/app/{target} does not exist",
                    path=path,
                    target=target,
                )
            if reference.is_static:
                self._static.setdefault(path, []).append(target)
            digest = self._prepare(target, (*open_paths, path)).digest
            parts += [source[at : reference.end], f"?v={digest}"]
            at = reference.end
        return "".join([*parts, source[at:]]).encode()

    def _rewrite_app_urls(self, path: str, text: str) -> str:
        """Put hashes into quoted `/app/...` addresses (page, worker and manifest)."""

        def hashed(match: re.Match[str]) -> str:
            target = match["path"]
            if target not in self._sources:
                message = f"{path} refers to /app/{target}, which does not exist"
                raise WebAssetsError("web.missing", message, path=path, target=target)
            return self._prepare(target, (path,)).url

        return _APP_URL.sub(hashed, text)

    def _prepare_index(self) -> WebFile:
        source = self._sources[INDEX].decode()
        map_match, entry = _IMPORT_MAP.search(source), _ENTRY.search(source)
        if map_match is None or entry is None or _PRELOAD_PLACE not in source:
            raise WebAssetsError(
                "web.place",
                f"{INDEX} needs an import map, {_PRELOAD_PLACE} and a module script, in this order",
            )
        names: dict[str, str] = json.loads(map_match["json"])["imports"]
        modules = [url.removeprefix("/app/") for url in names.values()]
        modules += self._reached_from(entry["path"])
        text = self._rewrite_app_urls(INDEX, source)
        rewritten = _IMPORT_MAP.search(text)
        self._import_map = rewritten["json"] if rewritten else ""
        links = "\n".join(
            f'<link rel="modulepreload" href="{self._done[path].url}">'
            for path in dict.fromkeys(modules)
        )
        text = text.replace(_PRELOAD_PLACE, links).replace(_RELEASE_PLACE, self.release)
        return _web_file(INDEX, text.encode())

    def _reached_from(self, entry: str) -> list[str]:
        """Return every module that static imports reach from the entry, the entry last."""
        order: dict[str, None] = {}

        def visit(path: str) -> None:
            for target in self._static.get(path, []):
                if target not in order:
                    visit(target)
            order[path] = None

        visit(entry)
        return list(order)

    def _prepare_worker(self) -> WebFile:
        source = self._sources[WORKER].decode()
        if _PRECACHE_PLACE not in source or _RELEASE_PLACE not in source:
            raise WebAssetsError(
                "web.place", f"{WORKER} needs '{_PRECACHE_PLACE}' and '{_RELEASE_PLACE}'"
            )
        text = self._rewrite_app_urls(WORKER, source).replace(_RELEASE_PLACE, self.release)
        # The worker's own scripts are kept by the browser together with the worker.
        entries = [
            {"url": file.url, "revision": None}
            for path, file in sorted(self._done.items())
            if file.url not in text and path != MANIFEST
        ]
        text = text.replace(_PRECACHE_PLACE, f"const PRECACHE = {json.dumps(entries)};")
        text = text.replace("INDEX_URL", self.index_html.url)
        return _web_file(WORKER, text.encode())


def security_headers(csp: str) -> dict[str, str]:
    """Return the headers that every file of the app is sent with."""
    return {
        "Content-Security-Policy": csp,
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "same-origin",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "geolocation=(), microphone=(self), payment=(), usb=()",
    }


def _web_file(path: str, body: bytes) -> WebFile:
    suffix = posixpath.splitext(path)[1]
    # mtime=0: the same release gives the same bytes on every server
    gzipped = None if suffix in _COMPRESSED_ALREADY else gzip.compress(body, mtime=0)
    digest = hashlib.sha256(body).hexdigest()[:_HASH_LENGTH]
    return WebFile(path, TYPES[suffix], body, gzipped, digest)


def _release_digest(sources: Mapping[str, bytes]) -> str:
    whole = hashlib.sha256()
    for path, body in sources.items():
        whole.update(f"{path}\0{len(body)}\0".encode())
        whole.update(body)
    return whole.hexdigest()[:_HASH_LENGTH]


def _content_security_policy(import_map: str) -> str:
    """Everything from the own origin; the one inline script is the import map, named by hash."""
    digest = base64.b64encode(hashlib.sha256(import_map.encode()).digest()).decode()
    rules = {
        "default-src": "'none'",
        "script-src": f"'self' 'sha256-{digest}'",
        "style-src": "'self'",
        "img-src": "'self' blob:",  # blob: previews of photos that are still on the phone
        "media-src": "'self' blob:",  # spoken notes, likewise
        "font-src": "'self'",
        "connect-src": "'self'",
        "manifest-src": "'self'",
        "worker-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in rules.items())
