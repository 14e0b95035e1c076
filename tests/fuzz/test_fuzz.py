"""A few hundred mutated files and words, always the same: an answer or one line, never a traceback."""

import pytest
from fuzz.attempts import COMMANDS, READERS, attempts

ROUND = len(READERS) + len(COMMANDS) + 6


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_mutated_files_and_words_are_answered_or_refused(tmp_path, monkeypatch, seed):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path / "settings")
    outcomes = list(attempts(seed, 2 * ROUND, tmp_path))
    failed = [found for found in outcomes if found is not None]
    print(f"tried {len(outcomes)}, failed {len(failed)}")
    assert not failed
