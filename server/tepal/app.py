"""The composition root of the server: settings, clock and random source meet the rooms here."""

from __future__ import annotations

import dataclasses
import logging
import os
import secrets
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from flask import Flask, jsonify
from werkzeug.middleware.proxy_fix import ProxyFix

from tepal import __version__
from tepal.api import (
    access,
    across,
    analysis,
    book_files,
    enrolment,
    errors,
    exchange,
    feeds,
    guard,
    members,
    office,
    papers,
    trial_files,
    trials,
)
from tepal.api.state import allowances
from tepal.api.web import web_blueprint
from tepal.api.web_assets import WebAssets, security_headers
from tepal.config import Config
from tepal.photos.storage import PhotoStorage
from tepal.services.access import is_set_up
from tepal.services.limits import SqlTally, TryLimiter
from tepal.services.prints_now import PrintsNow
from tepal.services.server_acts import Chance
from tepal.services.wire import WireTexts
from tepal.services.worker import Worker
from tepal.store.database import init_database, read_session
from tepal.store.upgrade import upgrade

if TYPE_CHECKING:
    from flask import Response

LOG = logging.getLogger("tepal")


def create_command_app(config: Config, chance: Chance | None = None) -> Flask:
    """Build an app without routes: the database, photos, clock and randomness for a command."""
    app = Flask("tepal", static_folder=None)
    app.extensions["tepal_config"] = config
    app.extensions["tepal_chance"] = chance or Chance(lambda: datetime.now(UTC), os.urandom)
    app.extensions["tepal_photos"] = PhotoStorage(config.photos_url)
    init_database(app, config.database_url)
    return app


def create_app(config: Config | None = None, chance: Chance | None = None) -> Flask:
    """Build the WSGI app.

    Parameters
    ----------
    config : settings; from the environment when None.
    chance : clock and random source; the real ones when None (tests hand in their own).
    """
    config = Config.from_environment() if config is None else config
    if not config.set_up_token:
        config = dataclasses.replace(config, set_up_token=secrets.token_hex(6))
    app = create_command_app(config, chance)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.config.update(
        API_TITLE="Tepal", API_VERSION=__version__, OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/api", OPENAPI_JSON_PATH="openapi.json",
        MAX_CONTENT_LENGTH=config.max_body_mb * 1024 * 1024,
    )  # fmt: skip
    app.extensions["tepal_limiter"] = TryLimiter(SqlTally())
    app.extensions["tepal_worker"] = worker = Worker()
    app.extensions["tepal_prints"] = PrintsNow(worker, app.extensions["tepal_chance"].now)
    app.extensions["tepal_wire"] = WireTexts()
    app.extensions["tepal_allowances"] = allowances(SqlTally())
    with app.app_context():
        upgrade()
        with read_session() as db:
            waiting = not is_set_up(db)
    if waiting:
        LOG.warning("Not set up yet. Open /set-up and enter this token: %s", config.set_up_token)
    assets = WebAssets(config.web_root)
    if config.n_proxies:  # else what a client says of its address counts for nothing
        hops = config.n_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops)  # type: ignore[method-assign]
    guard.install(app, security_headers(assets.csp))
    api = errors.DocumentedApi(app)
    errors.install(app)  # after Api, which brings an error body of its own
    api.register_blueprint(access.blueprint)
    api.register_blueprint(enrolment.blueprint)
    api.register_blueprint(exchange.blueprint)
    api.register_blueprint(office.blueprint)
    api.register_blueprint(members.blueprint)
    api.register_blueprint(book_files.blueprint)
    api.register_blueprint(feeds.blueprint)
    api.register_blueprint(papers.blueprint)
    api.register_blueprint(papers.schemas)
    api.register_blueprint(trials.blueprint)
    api.register_blueprint(trial_files.blueprint)
    api.register_blueprint(analysis.blueprint)
    api.register_blueprint(across.blueprint)
    app.register_blueprint(feeds.public)
    app.register_blueprint(web_blueprint(assets))

    @app.get("/healthz")
    def healthz() -> Response:
        with read_session() as db:
            return jsonify({"ok": True, "version": __version__, "is_set_up": is_set_up(db)})

    return app
