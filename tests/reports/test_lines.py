import pytest

from tepal.reports.flowables import Column, Record, Row, Stack, columns, height_of
from tepal.reports.gate import Gate
from tepal.reports.lines import Span, TextBlock
from tepal.reports.pager import LayoutError, Section, lay_out
from tepal.reports.shapes import AnchorCode
from tepal.reports.theme import BODY, geometry


def block(text, style=BODY):
    return TextBlock(Gate(), [Span(text, style)])


def set_lines(text, width):
    found = block(text)
    found.wrap(width, 1e6)
    return [" ".join(segment.text for segment in line) for line in found._lines]


def test_text_breaks_at_spaces():
    assert set_lines("one two three", 24) == ["one", "two", "three"]


def test_newlines_are_kept_and_an_empty_line_keeps_its_height():
    assert set_lines("a\n\nb", 100) == ["a", "", "b"]


def test_a_long_word_is_broken_and_nothing_is_lost():
    word = "W" * 300

    lines = set_lines(f"x {word} y", 60)

    assert "".join(lines).replace(" ", "") == f"x{word}y"
    assert len(lines) > 30


def test_a_long_word_breaks_after_punctuation_where_it_can():
    assert set_lines("abcdefghijk-lmnop", 64)[0] == "abcdefghijk-"


def test_no_line_is_wider_than_its_column():
    found = block("short " + "W" * 50 + " and -/_ more text " * 8)
    found.wrap(47, 1e6)

    widths = [line[-1].x + line[-1].width for line in found._lines if line]

    assert max(widths) <= 47 + 1e-6


def test_no_break_space_keeps_number_and_unit_together():
    assert set_lines("about 22.8\u00a0L", 40) == ["about", "22.8\u00a0L"]


@pytest.mark.parametrize("n_fit", [1, 7, 199])
def test_a_text_splits_between_any_two_lines(n_fit):
    tall = block("\n".join(f"line {i}" for i in range(200)))

    head, tail = tall.split(100, n_fit * BODY.leading + 1)

    assert head.wrap(100, 1e6)[1] == pytest.approx(n_fit * BODY.leading)
    assert tail.wrap(100, 1e6)[1] == pytest.approx((200 - n_fit) * BODY.leading)
    assert head.split(100, 1e6) == [head]


def test_a_text_does_not_split_where_no_line_fits():
    assert block("a\nb").split(100, BODY.leading - 1) == []


def test_a_row_splits_all_its_cells_at_one_height():
    cells = [(Column(0, 100), block("a\n" * 30)), (Column(110, 100), block("b\nb"))]

    head, tail = Row(cells).split(300, 10 * BODY.leading + 5)

    assert height_of(head, 300) == pytest.approx(10 * BODY.leading + 4.4)
    assert len(tail.cells) == 1


def test_columns_fill_the_width():
    found = columns(100, (1, 2, 1), gutter=5)

    assert [(c.x, c.width) for c in found] == [(0, 20), (25, 45), (75, 25)]


def placed_heights(pages, width):
    return [[height_of(p.flowable, width) for p in page] for page in pages]


def test_pages_repeat_the_head_of_a_section_and_hold_every_piece():
    g = geometry("a4", landscape=True)
    head = block("head")
    body = [Row([(Column(0, 100), block(f"row {i}"))]) for i in range(100)]

    pages = lay_out([Section(body, head=head)], g)

    assert all(page[0].flowable is head for page in pages)
    assert sum(len(page) - 1 for page in pages) == 100
    assert all(p.y >= g.bottom - 1e-6 for page in pages for p in page)
    assert all(
        p.y + height_of(p.flowable, g.body_width) <= g.top + 1e-6 for page in pages for p in page
    )


def test_a_record_moves_whole_to_the_next_page_when_it_fits_there():
    g = geometry("a4", landscape=True)
    half = g.body_height * 0.6
    lines = int(half // BODY.leading)
    records = [
        Record(
            [block("a\n" * lines + "a")], node="done", full_height=g.body_height, again=block("c")
        )
        for _ in range(2)
    ]

    pages = lay_out([Section(records)], g)

    assert [[p.flowable for p in page] for page in pages] == [[records[0]], [records[1]]]


def test_a_record_taller_than_a_page_continues_with_its_name():
    g = geometry("a4", landscape=True)
    again = block("continued")
    rows = [block(f"row {i}") for i in range(120)]
    record = Record(rows, node="done", full_height=g.body_height, again=again)

    pages = lay_out([Section([record])], g)

    assert len(pages) == 3  # 120 x 10.8 pt = 1296 pt on pages of 504 pt
    parts = [page[0].flowable for page in pages]
    assert [part.rows[0] is again for part in parts] == [False, True, True]
    assert [part.node for part in parts] == ["done", None, None]
    assert sum(len(part.rows) for part in parts) == 122


def test_a_piece_that_fits_nowhere_is_refused_by_name():
    g = geometry("a4", landscape=True)

    with pytest.raises(LayoutError) as caught:
        lay_out([Section([AnchorCode("x", side=2000)])], g)

    assert "AnchorCode" in str(caught.value)


def test_a_stack_keeps_order_when_it_splits():
    parts = [block("a"), block("b\n" * 9 + "b"), block("c")]

    head, tail = Stack(parts).split(100, 4 * BODY.leading)

    assert [part.n_lines for part in head.parts] == [1, 3]
    assert [height_of(part, 100) / BODY.leading for part in tail.parts] == pytest.approx([7, 1])


def test_pieces_to_be_kept_together_move_with_their_head():
    g = geometry("a4", landscape=True)
    line = BODY.leading
    before = block("\n".join("x" * int(g.body_height // line - 4)))
    head, rows = block("head\nhead"), [block("a"), block("b"), block("c")]

    pages = lay_out([Section([before]), Section(rows, head=head, keep=3)], g)

    assert [[p.flowable for p in page] for page in pages] == [[before], [head, *rows]]
