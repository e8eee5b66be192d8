import pytest

from tepal.reports.gate import REPLACEMENT, Gate, clean
from tepal.reports.theme import Face
from tepal.reports.typeface import FALLBACK, FONT_OF_FACE, glyphs


def printed(text, face="text"):
    gate = Gate()
    return "".join(run.text for run in gate.runs(text, face)), gate


@pytest.mark.parametrize("text", ["<b>bold</b>", "a & b", "&lt;", "%(x)s {y}", "\\n <br/>"])
def test_gate_prints_markup_as_plain_characters(text):
    assert printed(text)[0] == text


def test_gate_uses_the_own_font_for_plain_text():
    runs = Gate().runs("Chlormequat, 22.8 L, señal", "text")

    assert [run.font for run in runs] == [FONT_OF_FACE["text"]]


@pytest.mark.parametrize("text", ["→", "✓", "\u00b5", "α", "Ж", "\u2011"])
def test_gate_borrows_a_glyph_where_the_own_font_has_none(text):
    gate = Gate()

    runs = gate.runs(f"a{text}b", "text")

    own = FONT_OF_FACE["text"]
    assert [(run.text, run.font) for run in runs] == [("a", own), (text, FALLBACK), ("b", own)]
    assert gate.replaced == ()


@pytest.mark.parametrize(
    ("text", "shown", "told"),
    [
        ("東京 A", f"{REPLACEMENT * 2} A", ("U+6771 U+4EAC",)),
        ("🌱", REPLACEMENT, ("U+1F331",)),
        # DejaVu has these letters; printed unjoined and left to right they would be misread.
        ("سم", REPLACEMENT * 2, ("U+0633 U+0645",)),
        ("שלום", REPLACEMENT * 4, ("U+05E9 U+05DC U+05D5 U+05DD",)),
        ("\ud800x", f"{REPLACEMENT}x", ("U+D800",)),
    ],
)
def test_gate_shows_a_box_and_keeps_account_where_no_font_prints_rightly(text, shown, told):
    got, gate = printed(text)

    assert got == shown
    assert gate.replaced == told


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a\x00b\x07c\x1b[31m", "abc[31m"),
        ("a\tb", "a b"),
        ("a\r\nb\rc\u2028d", "a\nb\nc\nd"),
        ("so\u00adft zero\u200bwidth \u202eturned", "soft zerowidth turned"),
        ("n\u0303", "ñ"),  # NFC: Unicode Standard Annex 15
        ("\u2714\ufe0f", "\u2714"),
    ],
)
def test_clean_removes_what_has_no_shape(text, expected):
    assert clean(text) == expected


def test_every_face_can_print_digits_and_both_alphabets():
    for face in Face.__args__:
        assert glyphs(FONT_OF_FACE[face]) >= set("0123456789.,-–·²°ñáéíóúü¿¡ABCXYZabcxyz")


def test_replacement_box_has_a_glyph():
    assert REPLACEMENT in glyphs(FALLBACK)
