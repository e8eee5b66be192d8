"""`tepal address URL`: a page with the address as QR and the steps by which a phone trusts it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tepal.domain.errors import TepalError

if TYPE_CHECKING:
    import argparse


def register(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand."""
    parser = subparsers.add_parser(
        "address",
        help="print the address for phones as QR codes, with how to trust it",
        description="Writes one PDF page to hang up. With an authority of your own (see "
        "deploy/HTTPS.md) it holds a second QR code to fetch its certificate, the certificate's "
        "SHA-256 to compare, and the steps for Android, iPhone and computers.",
    )
    parser.add_argument("address", metavar="URL", help="https://tepal.lan, as phones reach it")
    parser.add_argument("--authority", type=Path, metavar="CA.pem", help="its root certificate")
    parser.add_argument(
        "--authority-address", default="", metavar="URL",
        help="where phones fetch it; http://HOST/authority.crt if left out",
    )  # fmt: skip
    parser.add_argument("--name", default="Tepal", help="what stands on the page (%(default)s)")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4")
    parser.add_argument("--language", choices=("en", "es"), default="en")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE.pdf")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the page."""
    from urllib.parse import urlsplit

    from tepal.config import Config
    from tepal.reports.address_sheet import AddressView, render_address_sheet
    from tepal.services.catalogue import catalogue

    parts = urlsplit(args.address)
    if parts.scheme != "https" or not parts.hostname:
        raise TepalError(
            "address.not_https",
            f"{args.address!r} is no https address: phones keep the app and the sign-in on HTTPS",
        )
    fingerprint, fetch = "", ""
    if args.authority is not None:
        fingerprint = _fingerprint(args.authority)
        fetch = args.authority_address or f"http://{parts.hostname}/authority.crt"
    view = AddressView(
        args.paper, args.language, args.name, args.address, fetch, fingerprint
    )  # fmt: skip
    words = catalogue(Config.from_environment().web_root / "locale", args.language)
    args.out.write_bytes(render_address_sheet(view, words))
    print(f"{args.out}: {args.address}")
    return 0


def _fingerprint(path: Path) -> str:
    """Return the SHA-256 of a PEM certificate as phones show it, in pairs."""
    import hashlib
    import ssl

    try:
        der = ssl.PEM_cert_to_DER_cert(path.read_text(encoding="ascii"))
    except (OSError, ValueError) as error:
        raise TepalError("address.no_certificate", f"{path} is no PEM certificate") from error
    text = hashlib.sha256(der).hexdigest().upper()
    return " ".join(text[i : i + 4] for i in range(0, len(text), 4))
