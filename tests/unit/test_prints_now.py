"""How far a long print is, as the person who asked for it is told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tepal.services.prints_now import PrintsNow
from tepal.services.worker import Progress, Worker, tell

NOW = datetime(2026, 5, 12, 14, 0, tzinfo=UTC)


def half_done() -> str:
    tell(3, 6)
    return "drawn"


class Standing(Worker):
    """A worker whose progress a test sets: nothing is run."""

    told: tuple[int, float, int, int] = (0, 0.0, 0, 0)

    def progress(self) -> Progress:
        return Progress(*self.told)


def test_work_tells_how_far_it_is_in_the_memory_it_shares(monkeypatch: pytest.MonkeyPatch) -> None:
    shared = [7.0, NOW.timestamp(), 0.0, 0.0]
    monkeypatch.setattr("tepal.services.worker._told", shared)
    assert half_done() == "drawn"
    assert shared == [7.0, NOW.timestamp(), 3, 6]
    assert Worker().progress().number == 0  # nothing was run yet


def test_telling_outside_a_worker_does_nothing() -> None:
    assert half_done() == "drawn"


def test_print_waits_then_is_drawn_then_ready_and_is_only_its_own_persons() -> None:
    worker, clock = Standing(), [NOW]
    prints = PrintsNow(worker, lambda: clock[0])

    with prints.printing("e", "ines", {"month": "2026-05"}) as number:
        [one] = prints.of("e", "ines")
        assert (one["state"], one["since"]) == ("waiting", None)
        worker.told = (number, NOW.timestamp(), 120, 300)
        [one] = prints.of("e", "ines")
        assert one == {
            "month": "2026-05", "state": "drawn", "since": "2026-05-12T14:00:00.000Z",
            "done": 120, "total": 300,
        }  # fmt: skip
        assert prints.of("e", "dinh") == prints.of("other", "ines") == []

    assert [one["state"] for one in prints.of("e", "ines")] == ["ready"]
    clock[0] += timedelta(minutes=11)
    assert prints.of("e", "ines") == []


def test_print_that_fails_is_not_called_ready() -> None:
    prints = PrintsNow(Standing(), lambda: NOW)
    with pytest.raises(ValueError, match="no paper"), prints.printing("e", "ines", {}):
        raise ValueError("no paper")
    assert [one["state"] for one in prints.of("e", "ines")] == ["failed"]
