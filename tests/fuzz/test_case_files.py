"""Case files that went wrong: a case, or one sentence."""

import random

import pytest

from dewledger.case import load_case, starter, starter_kinds
from dewledger.case.files import BUNDLED

pytestmark = pytest.mark.fuzz

TEXTS = [starter(kind) for kind in starter_kinds()] + [
    path.read_text(encoding="utf-8") for path in sorted(BUNDLED.glob("*.toml"))
]


@pytest.mark.parametrize("block", range(4))
def test_mutated_case_files(tmp_path, mutated, effort, result_or_sentence, block):
    path = tmp_path / "case.toml"
    for seed in range(block * 50 * effort, (block + 1) * 50 * effort):
        path.write_bytes(mutated(random.Random(seed).choice(TEXTS), seed))
        result_or_sentence(load_case, path)
