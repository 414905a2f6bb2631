"""The diagram in the papers is the table of moves."""

from __future__ import annotations

from pathlib import Path

import pytest

from workorders.orders.rules import diagram

ROOT = Path(__file__).resolve().parents[3]
MARK = "<!-- diagram:work-order -->"
PAPERS = [ROOT / name for name in ("README.md", "DEVELOPERS.md")]


def drawn_in(text: str) -> str:
    """Return the Mermaid block that follows the mark."""
    block = text.split(MARK, 1)[1].split("```mermaid\n", 1)[1]
    return block.split("\n```", 1)[0]


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_a_paper_that_shows_the_diagram_shows_this_one(paper: Path) -> None:
    text = paper.read_text() if paper.exists() else ""
    if MARK not in text:
        pytest.skip("the paper shows no diagram")

    assert drawn_in(text) == diagram()


def test_the_block_behind_the_mark_is_read_whole() -> None:
    text = f"Before\n{MARK}\n\n```mermaid\n{diagram()}\n```\nAfter\n"

    assert drawn_in(text) == diagram()
