"""`tepal demo`: fill an empty database with an invented nursery."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "demo",
        help="fill an empty database with an invented nursery",
        description=(
            "Fill an empty database with an invented nursery: houses, benches, lots, products and "
            "people. Everything in it is invented; the products are no real ones."
        ),
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Fill the database named by the settings; does nothing where it is filled already."""
    from tepal.app import create_app
    from tepal.services.access import is_set_up
    from tepal.services.demo import PASSWORD, PEOPLE, PIN, fill
    from tepal.store.database import read_session, write_session

    del args
    app = create_app()
    with app.app_context():
        with read_session() as db:
            filled = is_set_up(db)
        if not filled:
            with write_session() as db:
                fill(db, app.extensions["tepal_chance"])
    print("The demo is an invented nursery. Sign in as one of:")
    for name, role in PEOPLE:
        print(f"  {name:<14} {role:<10} password: {PASSWORD}")
    print(f"On a phone they share, grower and operator take turns with the PIN {PIN}.")
    sys.stdout.flush()
    return 0
