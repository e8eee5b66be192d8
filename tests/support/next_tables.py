"""Write the next migration from what the models say. `python -m support.next_tables "what changes"`.

Those that are there stay as they are: books of nurseries stand on them.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic import command
from flask import Flask

from tepal.store.database import init_database
from tepal.store.upgrade import MIGRATIONS, alembic_config, upgrade


def main() -> None:
    """Compare the tables that the migrations make with the models; write what lacks."""
    (what,) = sys.argv[1:]
    number = f"{1 + len(list((MIGRATIONS / 'versions').glob('[0-9]*.py'))):04d}"
    app = Flask("tepal")
    with tempfile.TemporaryDirectory() as folder:
        init_database(app, f"sqlite:///{Path(folder) / 'empty.db'}")
        with app.app_context():
            upgrade()
            command.revision(alembic_config(), what, autogenerate=True, rev_id=number)


if __name__ == "__main__":
    main()
