"""Which references a file holds, and which look-alikes it does not."""

from __future__ import annotations

import pytest

from tepal.api.web_references import references_in_css, references_in_js


def paths(source: str) -> list[str]:
    return [reference.path for reference in references_in_js(source)]


@pytest.mark.parametrize(
    "source",
    [
        'import { a } from "./a.js";',
        "import a, { b as c } from './a.js';",
        'import * as a from "./a.js";',
        'import {\n  a,\n  b,\n} from "./a.js";',
        'import "./a.js";',
        'export { a } from "./a.js";',
        'export * from "./a.js";',
        'const a = await import("./a.js");',
        'const url = new URL("./a.js", import.meta.url);',
        "const t = html`<p>it's ${x}</p>`;\nconst a = import('./a.js');",
        "const t = html`${list.map((x) => html`<b>don't</b>`)}`;\nimport('./a.js');",
        "const r = /['\"`]/.test(x);\nimport('./a.js');",
        "const half = n / 2; // it's\nimport('./a.js');",
        "const html1 = html`<a title=${{ a: `x${'}'}` }}/>`; import('./a.js');",
    ],
)
def test_reference_is_found(source: str) -> None:
    found = references_in_js(source)

    assert [reference.path for reference in found] == ["./a.js"]
    assert source[found[0].start : found[0].end] == "./a.js"


@pytest.mark.parametrize(
    "source",
    [
        '// import { a } from "./a.js";',
        '/** @type {import("./a.js").A} */\nlet a;',
        '/* import "./a.js"; */',
        'import { h } from "preact";',
        'const text = `import { a } from "./a.js";`;',
        "const half = 1 / 2; /* './a.js' */",
        'const text = "./a.js";',
    ],
)
def test_look_alike_is_not_a_reference(source: str) -> None:
    assert paths(source) == []


def test_only_static_imports_are_marked_static() -> None:
    found = references_in_js(
        'import "./a.js";\nimport("./b.js");\nnew URL("./c.json", import.meta.url);'
    )

    assert [(r.path, r.is_static) for r in found] == [
        ("./a.js", True),
        ("./b.js", False),
        ("./c.json", False),
    ]


def test_css_references_are_found_without_comments_and_foreign_schemes() -> None:
    css = """/* url(no.png) */ @import "./a.css"; a { src: url(../f.woff2) url('b.png');
    fill: url(#id); background: url(data:image/png;base64,AA); mask: url(/app/x.svg) }"""

    assert [reference.path for reference in references_in_css(css)] == [
        "./a.css",
        "../f.woff2",
        "b.png",
    ]
