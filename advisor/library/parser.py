"""Knowledge folders to `Knowledge`: every file read, the shop's laid over, every entry typed, all errors shown together."""

from __future__ import annotations

from pathlib import Path

from advisor.errors import KnowledgeError, Location, Problem
from advisor.library import experience, references
from advisor.library.entries import Loaded, read_all
from advisor.library.layers import lay_over
from advisor.library.sources import digest_of_both, knowledge_files
from advisor.model.knowledge import Knowledge
from advisor.model.retired import Retired


def load(folder: Path, shop: Path | None = None, *, counted: bool = True) -> Knowledge:
    """The knowledge of a folder, with the shop's laid over it where there is one.

    `counted`: numbers from closed cases stand in place of words, where a person has signed for them; without, the words alone
    count. Raises KnowledgeError with
    every problem of every file, in order of place; NotFound for a folder without files.
    """
    loaded, digest = _read(folder, shop)
    loaded.typed()
    words = loaded.entries.get("words")
    if not words and not any("words.yaml" in p.location.path for p in loaded.problems):
        loaded.problems.append(Problem(Location(f"{folder.name}/words.yaml"), "is missing", "every folder needs it"))
    knowledge = _assembled(loaded, digest) if words else None
    if knowledge is not None:
        loaded.problems += references.check(knowledge, loaded.entries)
        for entry, spot in loaded.entries.get("experience", []):
            loaded.problems += experience.problems(entry, spot, knowledge)
            loaded.problems += experience.unsigned(entry, spot) if counted else ()
    if loaded.problems or knowledge is None:
        problems = tuple(sorted(set(loaded.problems)))
        count = len(problems)
        named = f"{folder}" if shop is None else f"{folder} and {shop}"
        raise KnowledgeError(f"{named}: {count} error{'s' if count != 1 else ''} in the knowledge", problems=problems)
    for entry, _ in loaded.entries.get("experience", []) if counted else ():
        knowledge = experience.with_experience(knowledge, entry)
    return knowledge


def places(folder: Path, shop: Path | None = None) -> dict[tuple[str, str], Location]:
    """Where each entry begins, by its kind and id, e.g. ("checks", "load-test"); one that the shop changed, in its file."""
    return {(raw.kind, str(raw.id)): raw.spot.place for raw in _read(folder, shop)[0].raw if raw.id is not None}


def _read(folder: Path, shop: Path | None) -> tuple[Loaded, str]:
    """The untyped entries of both layers, one over the other, and the digest that names both."""
    files = knowledge_files(folder)
    both = digest_of_both(folder, shop)
    try:
        loaded = read_all(folder, files)
    except OSError as error:
        raise KnowledgeError(f"{error.filename}: cannot be read ({error.strerror})", "Check the permissions.") from None
    if shop is None:
        return loaded, both
    over = knowledge_files(shop, "--shop", "the shop's own files")
    shown = str(shop) if shop.name == folder.name else None  # two folders of one name would look like one
    return lay_over(loaded, read_all(shop, over, shown, whole=False)), both


def _assembled(loaded: Loaded, digest: str) -> Knowledge:
    """The whole from what could be read. Made without validation: each part has been validated already."""
    return Knowledge.model_construct(
        words=loaded.entries["words"][0][0],
        sources=loaded.keyed("sources"),
        fault_modes=loaded.keyed("fault-modes", "fmi"),
        complaints=loaded.keyed("complaints"),
        intake=loaded.keyed("intake"),
        kinds=loaded.keyed("kinds"),
        glossary=loaded.keyed("glossary"),
        phrases=loaded.keyed("phrases"),
        word_groups=loaded.keyed("word-groups"),
        variables=loaded.keyed("variables"),
        moves=loaded.keyed("moves"),
        safety=loaded.keyed("safety"),
        cautions=loaded.keyed("cautions"),
        tools=loaded.keyed("tools"),
        causes=loaded.keyed("causes"),
        checks=loaded.keyed("checks"),
        rules=loaded.keyed("rules"),
        rule_cases=tuple(entry for entry, _ in loaded.entries.get("cases", [])),
        pairs_not_separated=loaded.keyed("pairs-not-separated"),
        same_physics=loaded.keyed("same-physics"),
        retired=next((entry for entry, _ in loaded.entries.get("retired", [])), Retired()),
        digest=digest,
    )
