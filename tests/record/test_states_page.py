"""The page of how a machine can stand says what the data say, and its boxes stand apart."""

from __future__ import annotations

from html import unescape
from itertools import combinations

from folders import real_knowledge

from advisor.record.layered import Box, Node, layered
from advisor.record.states_page import states_page

K = real_knowledge()


def apart(a: Box, b: Box) -> bool:
    """Whether two boxes do not touch."""
    return a.x + a.width < b.x or b.x + b.width < a.x or a.y + a.height < b.y or b.y + b.height < a.y


def test_boxes_never_lie_on_each_other_and_all_lie_in_the_picture() -> None:
    """Long texts make high boxes; parts without a link between them stand one below the other."""
    nodes = [Node(f"{c}{i}", c, "A title of some length " * (1 + i), "small " * (i * 9)) for c in range(3) for i in range(4)]
    links = [("00", "11"), ("00", "12"), ("01", "10"), ("10", "22"), ("11", "20"), ("12", "22"), ("03", "13"), ("13", "21")]
    found = layered(nodes, links)
    assert [b.node for b in found.boxes] == nodes
    assert all(apart(a, b) for a, b in combinations(found.boxes, 2))
    assert all(b.x >= 0 and b.y >= 0 for b in found.boxes)
    assert all(b.x + b.width <= found.width and b.y + b.height <= found.height for b in found.boxes)


def test_an_arrow_leads_from_the_right_side_of_a_box_to_the_left_side_of_the_next() -> None:
    """So that it is read from left to right."""
    (arrow,) = (found := layered([Node("a", 0, "Before"), Node("b", 1, "After")], [("a", "b")])).arrows
    before, after = found.boxes
    assert (arrow.x1, arrow.x2) == (before.x + before.width, after.x)
    assert before.y < arrow.y1 < before.y + before.height


def test_every_move_every_value_and_every_rule_is_on_the_page() -> None:
    """In words too, for whoever does not see the picture."""
    page = " ".join(unescape(states_page(K)).split())
    for move in K.moves.values():
        assert f"{move.title}: from " in page, move.id
    for rule in K.safety.values():
        assert f"{rule.because} Source: {K.sources[rule.source].title}" in page, rule.id
    for variable in K.variables.values():
        assert f">{variable.title}</h3>" in page, variable.id


def test_the_page_asks_nothing_of_a_network_and_shows_text_as_text() -> None:
    """A title with markup in it stays a title."""
    moved = K.moves["lock-hinge"].model_copy(update={"title": "<script>alert(1)</script>"})
    page = states_page(K.model_copy(update={"moves": {**K.moves, "lock-hinge": moved}}))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http" not in page.replace("http-equiv", "")
