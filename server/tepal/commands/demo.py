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
    parser.add_argument(
        "--small", action="store_true",
        help="one house, two lots and three products, without a past: fills in a second",
    )  # fmt: skip
    parser.add_argument(
        "--seed", type=int, default=1, help="another number, another two months (%(default)s)"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Fill the database named by the settings; does nothing where it is filled already."""
    from tepal.app import create_app
    from tepal.services import demo, demo_full
    from tepal.services.access import is_set_up
    from tepal.services.demo_nursery import STAFF
    from tepal.store.database import read_session, write_session

    app = create_app()
    with app.app_context():
        with read_session() as db:
            filled = is_set_up(db)
        if not filled:
            chance = app.extensions["tepal_chance"]
            with write_session() as db:
                if args.small:
                    demo.fill(db, chance)
                else:
                    demo_full.fill_nursery(db, chance, app.extensions["tepal_photos"], args.seed)
    people = demo.PEOPLE if args.small else (*demo.PEOPLE[:1], *((n, r) for n, r, *_ in STAFF))
    print("The demo is an invented nursery. Sign in as one of:")
    for name, role in people:
        print(f"  {name:<14} {role:<10} password: {demo.PASSWORD}")
    print(f"On a phone they share, they take turns with the PIN {demo.PIN}.")
    sys.stdout.flush()
    return 0
