"""The catalogue speaks, and says so when it can't."""

from __future__ import annotations

import pytest

from tepal.domain.errors import NotFoundError
from tepal.domain.words import Words, places_of


def test_words_fill_a_message_by_its_code() -> None:
    words = Words("en", {"sync.waiting": "{n} {n|entry|entries} on this phone"})

    assert words.text("sync.waiting", n=3) == "3 entries on this phone"


def test_unknown_code_is_an_error_that_names_code_and_language() -> None:
    with pytest.raises(NotFoundError) as caught:
        Words("es", {}).text("sync.waiting")

    assert caught.value.code == "words.missing_code"
    assert caught.value.context == {"asked": "sync.waiting", "language": "es"}


def test_places_are_named_once_in_order() -> None:
    assert places_of("{n} {n|a|b} of {m}") == ["m", "n"]
