"""Write migration 0001 anew from the models: only while nothing is released. `python -m support.first_tables`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic import command
from flask import Flask

from tepal.store.database import init_database
from tepal.store.upgrade import MIGRATIONS, alembic_config


def main() -> None:
    """Replace versions/0001_first_tables.py by what the models say, formatted."""
    versions = MIGRATIONS / "versions"
    for old in versions.glob("0001_*.py"):
        old.unlink()
    app = Flask("tepal")
    with tempfile.TemporaryDirectory() as folder:
        init_database(app, f"sqlite:///{Path(folder) / 'empty.db'}")
        with app.app_context():
            command.revision(alembic_config(), "first tables", autogenerate=True, rev_id="0001")
    sys.stdout.write("".join(f"{path}\n" for path in versions.glob("0001_*.py")))


if __name__ == "__main__":
    main()
