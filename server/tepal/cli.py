"""The command `tepal`: finds the subcommand's module and runs it.

Subcommand modules are imported only when asked for, so that `tepal --help` starts at once.
"""

from __future__ import annotations

import argparse
import functools
import importlib
import secrets
import sys
from typing import TYPE_CHECKING

from tepal import __version__
from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    from collections.abc import Sequence

# name -> (module in tepal.commands, one line of help)
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "fill an empty database with an invented nursery"),
    "mix": ("mix", "compute a mix from a JSON file"),
    "serve": ("serve", "run the server"),
    "design": ("design", "lay out trials and ask how many replicates they need"),
    "analyse": ("analyse", "analyse a trial from a CSV file"),
    "import": ("import_table", "bring in products, lots or places from CSV or XLSX"),
    "import-unsent": ("import_unsent", "take back the entries that a phone saved to a file"),
    "export": ("export", "write everything in open formats"),
    "redact": ("redact", "take a person's name out of the book, without breaking the chain"),
    "backup": ("backup", "write database, photos and files into one tar"),
    "restore": ("restore", "put a backup back, or rehearse that it can be"),
    "address": ("address", "print the address for phones as QR codes, with how to trust it"),
    "report": ("report", "print a month as PDF, or write it as JSON or CSV"),
    "verify": ("verify", "replay the journal: are tables and photos what it says?"),
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run `tepal ARGV` and return its exit code: 0 done, 1 a finding, 2 wrong use or bad input."""
    args = list(sys.argv[1:] if argv is None else argv)
    parser = argparse.ArgumentParser(
        prog="tepal",
        description="Records, mixing, trials and statistics for plant growth regulators.",
    )
    parser.add_argument("--version", action="version", version=f"tepal {__version__}")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND")
    wanted = next((a for a in args if not a.startswith("-")), None)
    for name, (module, line) in COMMANDS.items():
        if name == wanted:
            importlib.import_module(f"tepal.commands.{module}").register(subparsers)
        else:
            subparsers.add_parser(name, help=line, add_help=False)
    # randomness is an argument of everything below: a command that needs a seed asks this
    parser.set_defaults(draw_seed=functools.partial(secrets.randbelow, 2**32))
    parsed = parser.parse_args(args)
    if parsed.command is None:
        parser.print_help()
        return 2
    try:
        return int(parsed.run(parsed))
    except TepalError as error:
        print(f"tepal {parsed.command}: {error.message}", file=sys.stderr)
        return 2
    except OSError as error:
        if error.filename is None:  # of no file that somebody named: a fault, shown whole
            raise
        print(f"tepal {parsed.command}: {error.filename}: {error.strerror}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    raise SystemExit(main())
