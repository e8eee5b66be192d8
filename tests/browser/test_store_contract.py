"""The shipped store and the shipped maths in the browser that people use, not in a stand-in.

The store's contract is the one that the memory store of the simulations passes in Node; the maths
is compared with Python over the same 10,000 seeded inputs as in tests/web/test_core_twin.py.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from support.pictures import OFFICE
from support.twin import MODULES, differences, run_py
from support.twin_cases import has_exp, twin_cases
from tepal.api.web import WEB_APP
from tepal.api.web_assets import WebAssets

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from support.profiles import Profiles

pytestmark = pytest.mark.browser
TESTS = Path(__file__).resolve().parents[1]
SEED = 20261125
N_CASES = 10_000
CONTRACT = """async () => {
  const { storeContract } = await import('/test/support/js/store-contract.mjs');
  const { openStore } = await import('/app/store/dexie-store.js');
  const checks = [];
  let n = 0;
  const opened = [];
  storeContract(() => {
    n += 1;
    opened.push(openStore({ name: `contract-${n}` }));
    return opened.at(-1);
  }, (name, run) => checks.push([name, run]));
  const said = [];
  for (const [name, run] of checks) {
    said.push([name, await run().then(() => 'good', (error) => String(error))]);
  }
  for (const store of opened) store.close();
  return said;
}"""
# By their hashed addresses, as the app imports them: another address is another copy of `errors`.
TWIN = """async (addresses) => {
  const { Core } = await import('/test/web/core/call_core.js');
  const cases = await (await fetch('/test/cases.json')).json();
  const modules = {};
  for (const [name, address] of Object.entries(addresses)) modules[name] = await import(address);
  return JSON.stringify(new Core(modules).run(cases));
}"""


@pytest.fixture
def page(profiles: Profiles, gallery: str) -> Page:
    """A page of the app's own origin; what lies under tests/ is served to it as /test/."""
    tab = profiles.take(OFFICE)

    def serve(route: Any) -> None:
        path = TESTS / route.request.url.split("/test/", 1)[1]
        route.fulfill(body=path.read_text(), content_type="text/javascript")

    tab.route("**/test/**", serve)
    tab.goto(f"{gallery}/today")
    tab.wait_for_selector("#app[data-ready]")
    return tab


def test_shipped_store_keeps_the_contract(page: Page) -> None:
    said = page.evaluate(CONTRACT)

    assert [(name, word) for name, word in said if word != "good"] == []
    assert len(said) >= 12


def test_ten_thousand_random_inputs_give_pythons_numbers(page: Page) -> None:
    cases = twin_cases(SEED, N_CASES)
    page.route("**/test/cases.json", lambda route: route.fulfill(json=cases))

    files = WebAssets(WEB_APP).files
    addresses = {name: files[f"core/{name}.js"].url for name in MODULES}

    found = json.loads(page.evaluate(TWIN, addresses))

    unequal = [
        (case, differing)
        for case, one, other in zip(cases, run_py(cases), found, strict=True)
        # arithmetic is bit-equal; exp differs in the last digits between V8 and Python
        if (differing := differences(one, other, 1e-12 if has_exp(case) else 0.0))
    ]
    assert len(found) == N_CASES
    assert unequal == []
