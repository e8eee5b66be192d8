"""Settings from the environment; every one is listed in deploy/env.example."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_WEB_ROOT = Path(__file__).resolve().parents[2] / "web" / "app"


@dataclass(frozen=True, slots=True)
class Config:
    """What a server needs to know before it starts.

    `database_url` SQLAlchemy URL · `photos_url` fsspec URL or folder · `web_root` the folder with
    index.html · `max_body_mb` limit of a request's *decompressed* body · `set_up_token` what the
    set-up page asks for while the server is not set up; made and printed at start when empty ·
    `n_proxies` how many proxies of one's own stand in front and write X-Forwarded-For and -Proto.
    """

    database_url: str
    photos_url: str
    web_root: Path = _WEB_ROOT
    max_body_mb: int = 16
    set_up_token: str = ""
    n_proxies: int = 0

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> Config:
        """Read TEPAL_* variables; without any, everything lies in ./instance."""
        env = os.environ if environment is None else environment
        instance = Path(env.get("TEPAL_INSTANCE", "instance")).resolve()
        instance.mkdir(parents=True, exist_ok=True)
        return cls(
            database_url=env.get("TEPAL_DATABASE_URL", f"sqlite:///{instance / 'tepal.db'}"),
            photos_url=env.get("TEPAL_PHOTOS_URL", str(instance / "photos")),
            web_root=Path(env.get("TEPAL_WEB_ROOT", str(_WEB_ROOT))),
            max_body_mb=int(env.get("TEPAL_MAX_BODY_MB", "16")),
            set_up_token=env.get("TEPAL_SET_UP_TOKEN", ""),
            n_proxies=int(env.get("TEPAL_PROXIES", "0")),
        )
