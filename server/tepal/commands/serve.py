"""`tepal serve`: run the server under gunicorn, the way it runs in production."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "serve",
        help="run the server",
        description=(
            "Run the server. Settings come from TEPAL_* variables (deploy/env.example). Without a "
            "certificate it binds to this machine only: browsers keep a service worker and the "
            "sign-in cookies on HTTPS or on the machine itself."
        ),
    )
    parser.add_argument("--bind", default="127.0.0.1:8440", help="address:port (%(default)s)")
    parser.add_argument("--threads", type=int, default=8, help="threads per process (%(default)s)")
    parser.add_argument("--certificate", help="PEM file; with --key, serves HTTPS and HTTP/2")
    parser.add_argument("--key", help="PEM file of the certificate's key")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:  # noqa: RET503 -- execv does not return
    """Replace this process by gunicorn; returns only where the arguments are wrong."""
    if bool(args.certificate) != bool(args.key):
        print("tepal serve: --certificate and --key go together", file=sys.stderr)
        return 2
    command = [
        sys.executable, "-m", "gunicorn", "tepal.app:create_app()",
        "--bind", args.bind, "--worker-class", "gthread", "--workers", "1",
        "--threads", str(args.threads), "--no-control-socket", "--graceful-timeout", "20",
        "--access-logfile", "/dev/null",
    ]  # fmt: skip
    if args.certificate:
        command += ["--certfile", args.certificate, "--keyfile", args.key]
    os.execv(sys.executable, command)  # noqa: S606 -- our own interpreter, no shell
