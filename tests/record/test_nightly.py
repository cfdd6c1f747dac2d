"""A night's work on the record: backup, thinning, forecast; a disk that fails is told, not raised."""

from __future__ import annotations

from pathlib import Path

from dryward.record.keeping import DAY_S, backups
from dryward.record.nightly import nightly
from dryward.record.queries import Record
from tests.record.scene import UTC_S, air, began, put, writer


def test_a_night_backs_up_thins_and_forecasts(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    book = writer(path)
    put(book, 0, air(0), marks=[began()])
    for tick in range(10, 9000, 10):
        put(book, tick, air(tick))
    book.flush()
    night = nightly(path, book, folder=tmp_path / "kept", keep_days=1.0, at_utc_s=UTC_S + 5000.0 + DAY_S, away=tmp_path)
    assert book.close()
    assert night.worries == ()
    assert len(backups(tmp_path / "kept", path)) == 1
    assert (tmp_path / backups(tmp_path / "kept", path)[0].name).exists()
    with Record(path) as record:
        left = record.readings("r1", "air")
        assert 0 < len(left) < 899
        assert record.thinned("r1")
    assert any("MB" in line for line in night.done)


def test_a_backup_that_fails_is_a_worry_and_the_rest_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    book = writer(path)
    put(book, 0, air(0), marks=[began()])
    book.flush()
    (tmp_path / "file").write_text("not a folder")
    night = nightly(path, book, folder=tmp_path / "file", keep_days=365.0, at_utc_s=UTC_S + 10.0)
    assert book.close()
    assert "no backup" in night.worries[0].lower()
    assert any("MB" in line for line in night.done)
