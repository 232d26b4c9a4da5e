"""Scratch data of drills: what a killed one left goes, what a running one needs stays."""

import tempfile

from contractor.operations import postgres


def test_the_next_drill_clears_away_what_a_killed_one_left(tmp_path):
    killed = tmp_path / f"{postgres.SCRATCH}killed"
    (killed / "cluster").mkdir(parents=True)
    other = tmp_path / "somebody-elses"
    other.mkdir()

    with postgres.cleared(tmp_path):
        assert not killed.exists()
        running = tmp_path / f"{postgres.SCRATCH}running"
        running.mkdir()
        with postgres.cleared(tmp_path):  # a second one at the same time
            assert running.exists()

    with postgres.cleared(tmp_path):
        assert not running.exists()
    assert other.exists()


def test_one_in_the_systems_folder_is_spared_by_one_that_was_given_it(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))

    with postgres.cleared(None):
        running = tmp_path / f"{postgres.SCRATCH}running"
        running.mkdir()
        for below in (tmp_path, None):
            with postgres.cleared(below):
                assert running.exists()

    with postgres.cleared(None):  # it ended without clearing up
        assert not running.exists()
