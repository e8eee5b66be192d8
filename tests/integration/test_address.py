"""`tepal address`: the page from which a phone learns where the server is and whom to trust."""

from __future__ import annotations

import hashlib
import subprocess
from typing import TYPE_CHECKING

import pytest

from support.paper_reading import whole_text
from tepal.cli import main

if TYPE_CHECKING:
    from pathlib import Path


def test_address_page_holds_the_fingerprint_that_a_phone_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path))
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
         "-nodes", "-keyout", "k", "-out", "ca.pem", "-subj", "/CN=x"],
        cwd=tmp_path, check=True, capture_output=True,
    )  # fmt: skip
    der = subprocess.run(
        ["openssl", "x509", "-in", "ca.pem", "-outform", "DER"],
        cwd=tmp_path, check=True, capture_output=True,
    ).stdout  # fmt: skip
    command = ["address", "https://tepal.lan", "--authority", str(tmp_path / "ca.pem")]

    assert main([*command, "--out", str(tmp_path / "a.pdf")]) == 0

    text = "".join(whole_text((tmp_path / "a.pdf").read_bytes()).split())
    assert hashlib.sha256(der).hexdigest().upper() in text
    assert "1.First:thecertificate" in text


@pytest.mark.parametrize("address", ["http://tepal.lan", "tepal.lan"])
def test_address_that_phones_cannot_keep_is_told(
    address: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("TEPAL_INSTANCE", str(tmp_path))

    assert main(["address", address, "--out", str(tmp_path / "a.pdf")]) == 2
    assert "is no https address" in capsys.readouterr().err
