"""How the prepared files are answered over HTTP."""

from __future__ import annotations

import gzip
from typing import TYPE_CHECKING

import pytest
from flask import Flask

from tepal.api.web import web_blueprint
from tepal.api.web_assets import WebAssets

if TYPE_CHECKING:
    from pathlib import Path

    from flask.testing import FlaskClient


@pytest.fixture
def assets(web_root: Path) -> WebAssets:
    return WebAssets(web_root)


@pytest.fixture
def client(assets: WebAssets) -> FlaskClient:
    app = Flask("web-test", static_folder=None)
    app.register_blueprint(web_blueprint(assets))
    return app.test_client()


def test_hashed_url_may_be_kept_for_ever(client: FlaskClient, assets: WebAssets) -> None:
    answer = client.get(assets.files["app.js"].url)

    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert answer.mimetype == "text/javascript"


def test_hash_of_another_release_is_not_answered_with_this_one(client: FlaskClient) -> None:
    assert client.get("/app/app.js?v=0000000000000000").status_code == 404


@pytest.mark.parametrize("path", ["/", "/sw.js", "/manifest.webmanifest", "/app/app.js"])
def test_unhashed_url_is_asked_for_again_each_time(client: FlaskClient, path: str) -> None:
    assert client.get(path).headers["Cache-Control"] == "no-cache"


@pytest.mark.parametrize("path", ["/", "/today", "/applications/0190", "/sign-in"])
def test_client_route_gets_the_page(client: FlaskClient, assets: WebAssets, path: str) -> None:
    assert client.get(path).data == assets.index_html.body


@pytest.mark.parametrize("path", ["/api/v1/none", "/app/none.js", "/robots.txt", "/app/"])
def test_what_is_no_client_route_is_not_found(client: FlaskClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_known_etag_gets_not_modified(client: FlaskClient) -> None:
    tag = client.get("/").headers["ETag"]

    assert client.get("/", headers={"If-None-Match": tag}).status_code == 304


def test_gzip_is_sent_to_those_who_accept_it(client: FlaskClient, assets: WebAssets) -> None:
    plain = client.get("/sw.js")
    packed = client.get("/sw.js", headers={"Accept-Encoding": "gzip"})

    assert plain.data == assets.worker.body
    assert packed.headers["Content-Encoding"] == "gzip"
    assert gzip.decompress(packed.data) == assets.worker.body
    assert packed.headers["ETag"] != plain.headers["ETag"]


@pytest.mark.parametrize("path", ["/", "/sw.js", "/app/app.js", "/app/index.html"])
def test_every_answer_carries_the_security_headers(client: FlaskClient, path: str) -> None:
    headers = client.get(path).headers

    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
