"""The starter study for tests in which what a run finds does not matter."""

from engine.study.reader import starter_text


def plain_starter(title: str) -> str:
    """Starter study without its stage firm, which takes several times as long as 300 designs."""
    text, firm = starter_text(title), ", polish, firm]"
    assert firm in text
    return text.replace(firm, ", polish]")
