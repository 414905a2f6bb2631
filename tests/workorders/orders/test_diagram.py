"""The diagram in the papers is the table of moves."""

from __future__ import annotations

from pathlib import Path

import pytest

from workorders.orders.rules import diagram

ROOT = Path(__file__).resolve().parents[3]
MARK = "<!-- diagram:work-order -->"
PAPERS = [paper for paper in (ROOT / "README.md", ROOT / "DEVELOPERS.md") if paper.exists()]
SHOWING = [paper for paper in PAPERS if MARK in paper.read_text()]


def drawn_in(text: str) -> str:
    """Return the Mermaid block that follows the mark."""
    block = text.split(MARK, 1)[1].split("```mermaid\n", 1)[1]
    return block.split("\n```", 1)[0]


@pytest.mark.parametrize("paper", SHOWING, ids=lambda paper: paper.name)
def test_a_paper_that_shows_the_diagram_shows_this_one(paper: Path) -> None:
    assert drawn_in(paper.read_text()) == diagram()


def test_the_block_behind_the_mark_is_read_whole() -> None:
    text = f"Before\n{MARK}\n\n```mermaid\n{diagram()}\n```\nAfter\n"

    assert drawn_in(text) == diagram()
