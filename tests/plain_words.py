"""Reads every sentence that a user may see, and lists what is hard to read: python tests/plain_words.py

Sentences are those of the literals of the program, of its templates and of the knowledge. Word frequencies are those of the
library wordfreq (Zipf scale: 3 is once in a million words), which counts books, subtitles and the web.
"""

from __future__ import annotations

import ast
import re
import statistics
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

ROOT = Path(__file__).parents[1]
LONGEST = 20  # words of a sentence
RARE = 2.6  # Zipf frequency below which a word is rare
UNITS = ("AWG", "mm", "AC", "UL")
SQL = ("store/index", "store/tally.py", "store/migrations")
PATTERNS = ("phrases.yaml", "word-groups.yaml")  # what is searched for, and no sentence
FEWEST = 4  # words from which on a text is a sentence
# Order of words that stops a reader whose first language is another one, and words of a riddle.
INVERSIONS = re.compile(
    r"\b(were it|were one|were the|should it|had it|so long it must|not until|no sooner|lest|whoever|whosoever|nought|"
    r"shall|of the same hand|proves? nothing)\b",
    re.I,
)
PASSIVE = re.compile(
    r"\b(?:is|are|was|were|be|been|being)\s+(?:\w+ly\s+)?(\w+ed|known|found|made|taken|given|shown|done|seen|told|held)\b"
)


@dataclass(frozen=True)
class Sentence:
    """One sentence and the file and line it stands in."""

    where: str
    text: str

    @property
    def words(self) -> list[str]:
        """The words; figures, units and signs of a list of values are none."""
        return [w for w in re.findall(r"[A-Za-z][A-Za-z'-]*", self.text) if (len(w) > 1 and w not in UNITS) or w in ("a", "A", "I")]


def literals(file: Path) -> Iterator[tuple[int, str]]:
    """The texts of a module that are no docstrings; a value in a text is one word."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            skipped |= {id(v) for v in node.values}
            yield node.lineno, "".join(str(v.value) if isinstance(v, ast.Constant) else "5" for v in node.values)
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            yield node.lineno, node.value


def texts(node: yaml.Node) -> Iterator[tuple[int, str]]:
    """Every value of a knowledge file that holds a blank."""
    if isinstance(node, yaml.ScalarNode):
        if " " in node.value:
            yield node.start_mark.line + 1, node.value
    elif isinstance(node, yaml.SequenceNode):
        for part in node.value:
            yield from texts(part)
    elif isinstance(node, yaml.MappingNode):
        for _, part in node.value:
            yield from texts(part)


def sentences() -> Iterator[Sentence]:
    """Every sentence of four words and more."""
    sources = [(f, literals(f)) for f in sorted((ROOT / "advisor").rglob("*.py")) if not any(x in f.as_posix() for x in SQL)]
    for file in sorted((ROOT / "knowledge").rglob("*.yaml")):
        if file.name in PATTERNS:
            continue
        sources.append((file, texts(yaml.compose(file.read_text(encoding="utf-8"), yaml.CSafeLoader))))
    for file in sorted((ROOT / "advisor").rglob("*.j2")):
        plain = re.sub(r"<style>.*?</style>|\{#.*?#\}", "", file.read_text(encoding="utf-8"), flags=re.S)
        plain = re.sub(r"\{%.*?%\}|<[^>]*>", "\n", re.sub(r"\{\{.*?\}\}", "5", plain, flags=re.S), flags=re.S)
        sources.append((file, enumerate(plain.split("\n"), 1)))
    for file, found in sources:
        for line, text in found:
            if re.search(r"\\[a-zA-Z(]|\(\?|%\(", text):  # a pattern
                continue
            for part in re.split(r"(?<=[.!?:;])\s+|\n", text):
                sentence = Sentence(f"{file.relative_to(ROOT)}:{line}", part.strip())
                if len(sentence.words) >= FEWEST:
                    yield sentence


def inverted(s: Sentence) -> str:
    """The words that stand the wrong way round, or nothing."""
    found = INVERSIONS.search(s.text)
    return found.group(0) if found else ""


def main() -> None:
    """Prints averages, and each sentence that is long, inverted or full of passives; then the rare words."""
    from wordfreq import zipf_frequency

    found = list(sentences())
    lengths = [len(s.words) for s in found]
    print(f"{len(found)} sentences; on average {statistics.mean(lengths):.1f} words, the longest {max(lengths)}.")
    rare: Counter[str] = Counter()
    for s in found:
        passives = len(PASSIVE.findall(s.text))
        faults = [f"{len(s.words)} words"] * (len(s.words) > LONGEST) + [f"{passives} passives"] * (passives > 1)
        faults += [f"inverted: {inverted(s)}"] * bool(inverted(s))
        if faults:
            print(f"{s.where}: {'; '.join(faults)}: {s.text}")
        rare.update(w.lower() for w in s.words if w.islower() and "-" not in w and zipf_frequency(w, "en") < RARE)
    print("Rare words:", ", ".join(f"{w} {n}" for w, n in rare.most_common()))


if __name__ == "__main__":
    main()
