"""Serve the browser app: the page for every client route, its files, the worker, the manifest.

What is sent was prepared by `web_assets.WebAssets`; this module only answers requests.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from flask import Blueprint, abort, make_response, request

from tepal.api.web_assets import INDEX, MANIFEST, WebAssets, security_headers

if TYPE_CHECKING:
    from flask import Response

    from tepal.api.web_assets import WebFile

# A checkout keeps web/ beside server/.
WEB_APP = Path(__file__).resolve().parents[3] / "web" / "app"

_FOR_EVER = "public, max-age=31536000, immutable"
_ASK_AGAIN = "no-cache"


def web_blueprint(assets: WebAssets) -> Blueprint:
    """Return the blueprint `web` for the prepared files."""
    web = Blueprint("web", __name__)
    headers = security_headers(assets.csp)

    def send(file: WebFile, cache: str) -> Response:
        response = make_response(file.body)
        response.headers.update(headers)
        response.headers["Content-Type"] = file.type
        response.headers["Cache-Control"] = cache
        response.headers["X-Tepal-Release"] = assets.release
        response.vary.add("Accept-Encoding")
        tag = file.digest
        if file.gzipped is not None and request.accept_encodings["gzip"]:
            response.set_data(file.gzipped)
            response.headers["Content-Encoding"] = "gzip"
            tag += "-gzip"
        response.set_etag(tag)
        response.make_conditional(request)
        return response

    @web.get("/app/<path:path>")
    def app_file(path: str) -> Response:
        file = assets.files.get(path)
        version = request.args.get("v")
        if file is None or version not in (None, file.digest):
            # HAZARD: another release's file must not be answered with this one's: a page would
            # run a mixture. The client reloads and gets the new page.
            abort(404)
        return send(file, _FOR_EVER if version else _ASK_AGAIN)

    @web.get("/sw.js")
    def worker() -> Response:
        return send(assets.worker, _ASK_AGAIN)

    @web.get(f"/{MANIFEST}")
    def manifest() -> Response:
        return send(assets.files[MANIFEST], _ASK_AGAIN)

    @web.get("/")
    @web.get("/<path:route>")
    def page(route: str = "") -> Response:
        """Answer every address inside the app with the page, so that a link or reload works."""
        if route.split("/", maxsplit=1)[0] in ("api", "app") or "." in route.rsplit("/", 1)[-1]:
            abort(404)
        return send(assets.files[INDEX], _ASK_AGAIN)

    return web
