"""Serve the gallery of components: a copy of web/app in which gallery.js stands for app.js.

For pictures and browser tests of `ui`; the product ships none of it. Run by hand:
`python -m support.gallery_server 8123` from tests/.
"""

from __future__ import annotations

import shutil
import sys
import threading
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from flask import Flask, jsonify
from werkzeug.serving import WSGIRequestHandler, make_server

from tepal.api.web import WEB_APP, web_blueprint
from tepal.api.web_assets import WebAssets
from tepal.forms.deriver import form_specs

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Response

GALLERY = Path(__file__).parent / "gallery" / "gallery.js"


def gallery_app(folder: Path) -> Flask:
    """Return the throw-away app; `folder` receives the copy of web/app."""
    root = folder / "app"
    shutil.copytree(WEB_APP, root)
    shutil.copyfile(GALLERY, root / "app.js")
    app = Flask("gallery", static_folder=None)
    app.register_blueprint(web_blueprint(WebAssets(root)))

    @app.get("/api/v1/forms")
    def forms() -> Response:
        return jsonify(form_specs())

    return app


class _Silent(WSGIRequestHandler):
    """Answers without a line per request."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Write nothing."""


@contextmanager
def gallery_server(port: int = 0) -> Iterator[str]:
    """Run the gallery on loopback and yield its address; port 0 takes a free one."""
    with TemporaryDirectory() as folder:
        server = make_server(
            "127.0.0.1", port, gallery_app(Path(folder)), threaded=True, request_handler=_Silent
        )
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}"
        finally:
            server.shutdown()
            thread.join()
            server.server_close()


if __name__ == "__main__":
    with gallery_server(int(sys.argv[1]) if len(sys.argv) > 1 else 0) as address:
        print(address)
        threading.Event().wait()
