"""Answers to shares: the ranking of suspects, pairs of faults, families of checks, weights of evidence, robustness."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from worlds import USED, cause, check, knowledge, pair_table, spaces, witnesses, words, world

from advisor.evidence.rows import OTHERWISE, row
from advisor.evidence.spots import beside
from advisor.model.finding import NOT_LISTED, NOT_LISTED_TITLE
from advisor.model.knowledge import Check
from advisor.reasoning.likelihoods import Space, check_places
from advisor.reasoning.ranking import LEADERS, WORDS, Ranking, decibans, lines, rank, robustness
from advisor.reasoning.witnesses import Witness, strengths

PLAIN = check("tap", {"gear": {"bad": "very-likely"}, OTHERWISE: {"bad": "very-unlikely"}})
MANY = settings(max_examples=40, deadline=None)


def three(*checks: Check) -> Space:
    """Three causes without a place, met equally often."""
    return world([cause("gear"), cause("spring"), cause("wire")], checks)


def leading(ranking: Ranking) -> str:
    return lines(ranking)[0].cause


@MANY
@given(spaces(), st.data())
def test_hypotheses_share_one_whole(space: Space, data: st.DataObject) -> None:
    """Whatever the answers, the weights of all hypotheses sum to one and none is negative."""
    found = rank(space, data.draw(witnesses(space)))
    assert found.weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert found.weights.min() >= 0
    assert len(found.hypotheses) == len(found.weights) == len(set(found.hypotheses))


@MANY
@given(spaces(), st.data())
def test_a_suspects_share_is_that_of_the_hypotheses_that_hold_it(space: Space, data: st.DataObject) -> None:
    """A suspect's share adds up single faults and pairs of faults; so does a cause's, each pair once."""
    found = rank(space, data.draw(witnesses(space)))
    for i, suspect in enumerate(space.suspects):
        whole = sum(w for h, w in zip(found.hypotheses, found.weights, strict=True) if i in h)
        assert found.shares[i] == pytest.approx(whole, abs=1e-12)
        assert found.of(suspect.cause) <= 1 + 1e-12
    for line in lines(found):
        assert line.share == pytest.approx(found.of(line.cause), abs=1e-12)


@MANY
@given(spaces(), st.data())
def test_the_order_of_answers_does_not_matter(space: Space, data: st.DataObject) -> None:
    """The same answers in another order give the same ranking to the last digit."""
    answers = data.draw(witnesses(space))
    other = data.draw(st.permutations(answers))
    assert rank(space, answers).weights.tolist() == rank(space, other).weights.tolist()


@MANY
@given(spaces(), st.data())
def test_taking_back_the_last_answer_restores_the_ranking(space: Space, data: st.DataObject) -> None:
    """One more answer leaves no trace once it is taken back."""
    answers = data.draw(witnesses(space))
    before = rank(space, answers[:-1])
    rank(space, answers)
    after = rank(space, answers[:-1])
    assert lines(after) == lines(before)
    assert after.weights.tolist() == before.weights.tolist()


@MANY
@given(spaces(), st.data())
def test_weights_are_prior_times_chances(space: Space, data: st.DataObject) -> None:
    """Single faults stand to each other as their priors times the chances of every answer, each at its strength."""
    found = rank(space, data.draw(witnesses(space)))

    def weight(i: int) -> float:
        whole = float(space.prior[i])
        for w in found.witnesses:
            entry = space.knowledge.checks[w.check]
            suspect = space.suspects[i]
            here = frozenset({w.place}) if entry.at != "point" or w.place is None else beside(space.machine, w.place)
            name = OTHERWISE if entry.at and w.place and suspect.place not in here | {None} else suspect.cause
            part = 1.0
            if entry.at and w.place and suspect.place is None:  # it may sit at any of three plugs
                part = 0.0 if w.further else 1 / 3
            at = [r.id for r in entry.results].index(w.result)
            whole *= (part * row(entry, name, USED)[at] + (1 - part) * row(entry, OTHERWISE, USED)[at]) ** w.strength
        return whole

    wanted = np.array([weight(i) for i in range(len(space.suspects))])
    single = found.weights[: len(space.suspects)]
    assert single / single.sum() == pytest.approx(wanted / wanted.sum(), abs=1e-12)


def test_prior_factors_multiply_the_prior() -> None:
    """A rule that makes a cause four times as likely moves its odds against another by four."""
    space = three(PLAIN)
    found = rank(space, [], factors=np.array([4.0, 1.0, 1.0, 1.0]))
    assert found.weights[0] / found.weights[1] == pytest.approx(4.0)


def test_only_the_leading_suspects_form_pairs() -> None:
    """Two faults at once are considered for the leading dozen suspects, never with something not on the list."""
    space = world([cause("spread", place="terminal"), cause("broken", place="wire"), cause("gear")], [PLAIN])
    found = rank(space, [Witness("tap", "bad")])
    pairs = [h for h in found.hypotheses if len(h) == 2]
    assert len(space.suspects) > LEADERS + 1
    assert len(pairs) == LEADERS * (LEADERS - 1) // 2
    assert all(len(space.suspects) - 1 not in h for h in pairs)
    single = found.weights[: len(space.suspects) - 1]
    members = {i for h in pairs for i in h}
    assert min(single[list(members)]) >= max(w for i, w in enumerate(single) if i not in members) - 1e-15


def test_two_faults_need_two_witnesses() -> None:
    """Two checks that each show another cause raise the pair of both above either alone, one check does not."""
    other = check("pull", {"spring": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
    first = check("turn", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
    space = three(first, other)
    alone = rank(space, [Witness("turn", "bad"), Witness("pull", "good")])
    both = rank(space, [Witness("turn", "bad"), Witness("pull", "bad")])
    pair = both.hypotheses.index((0, 1))
    assert alone.weights[alone.hypotheses.index((0, 1))] < 0.05
    assert both.weights[pair] == max(both.weights)


def test_the_chance_of_a_second_fault_is_its_odds_times_both_priors() -> None:
    """Without answers a pair weighs second-fault odds times the priors of both, against one fault alone."""
    space = three(PLAIN)
    found = rank(space, [])
    pair, first = found.weights[found.hypotheses.index((0, 1))], found.weights[0]
    assert pair / first == pytest.approx(0.07 * space.prior[1])


def test_a_second_look_counts_at_half_strength() -> None:
    """Of two checks that look at the same thing, the more telling one counts in full and the other at half."""
    weak = check("glance", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}}, family="wear")
    strong = check("gauge", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}}, family="wear")
    space = three(weak, strong)
    found = {w.check: w.strength for w in strengths(space, [Witness("glance", "bad"), Witness("gauge", "bad")])}
    assert found == {"gauge": 1.0, "glance": 0.5}
    together = rank(space, [Witness("glance", "bad"), Witness("gauge", "bad")])
    ratio = together.weights[0] / together.weights[1]
    assert ratio == pytest.approx(0.96 / 0.02 * (0.72 / 0.36) ** 0.5)


def test_a_third_look_counts_no_more_than_a_second() -> None:
    """Every look after the first counts at half strength."""
    looks = [
        check(f"look-{i}", {"gear": {"bad": w}, OTHERWISE: {"bad": "unlikely"}}, family="wear")
        for i, w in enumerate(("likely", "very-likely", "almost-certain"))
    ]
    found = strengths(three(*looks), [Witness(f"look-{i}", "bad") for i in range(3)])
    assert sorted(w.strength for w in found) == [0.5, 0.5, 1.0]


def test_one_family_at_two_places_is_two_witnesses() -> None:
    """Looking at two terminals is not looking twice at one."""
    drag = check("drag", {"spread": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}}, at="terminal", family="drag")
    space = world([cause("spread", place="terminal")], [drag])
    found = strengths(space, [Witness("drag", "bad", "sensor:1"), Witness("drag", "bad", "sensor:2")])
    assert [w.strength for w in found] == [1.0, 1.0]


def test_of_several_cavities_the_most_telling_speaks_of_causes_without_a_place() -> None:
    """Five clean cavities and a wet one say of water in the plug what the wet one says, in whatever order they come."""
    wet = {"bad": "very-likely"}, {"bad": "very-unlikely"}
    look = check("look", {"water": wet[0], OTHERWISE: wet[1]}, at="terminal")
    space = world([cause("water"), cause("gear")], [look])
    clean = [Witness("look", "good", f"sensor:{i}") for i in (1, 2, 3)]
    found, alone = rank(space, [*clean, Witness("look", "bad", "sensor:4")]), rank(space, [Witness("look", "bad", "sensor:4")])
    assert found.weights[0] / found.weights[1] == pytest.approx(alone.weights[0] / alone.weights[1])
    assert rank(space, clean).weights[:2] == pytest.approx(rank(space, clean[:1]).weights[:2])


def test_a_discounted_answer_is_halved_again_in_its_family() -> None:
    """An answer that a rule says is worth less keeps its discount when it is also a second look."""
    weak = check("glance", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}}, family="wear")
    strong = check("gauge", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}}, family="wear")
    answers = [Witness("glance", "bad", None, 0.5), Witness("gauge", "bad")]
    assert {w.check: w.strength for w in strengths(three(weak, strong), answers)} == {"gauge": 1.0, "glance": 0.25}


@MANY
@given(spaces(), st.data())
def test_an_answer_at_one_place_leaves_the_other_places_as_they_were(space: Space, data: st.DataObject) -> None:
    """Single suspects at other places keep their proportions when a check speaks of one place."""
    names = [c.id for c in space.knowledge.checks.values() if c.at]
    assume(names)
    entry = space.knowledge.checks[data.draw(st.sampled_from(names))]
    here = data.draw(st.sampled_from(check_places(entry, space.machine)))
    result = data.draw(st.sampled_from([r.id for r in entry.results]))
    after = rank(space, [Witness(entry.id, result, here)])
    near = beside(space.machine, here) if entry.at == "point" and here else frozenset({here})
    others = [i for i, s in enumerate(space.suspects) if s.place is not None and s.place not in near]
    assume(others)
    before = space.prior[others] / space.prior[others].sum()
    assert after.weights[others] / after.weights[others].sum() == pytest.approx(before, abs=1e-12)


def test_a_terminal_that_drags_clears_only_itself() -> None:
    """A good answer at one terminal lowers that terminal and raises the others."""
    drag = check("drag", {"spread": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}}, at="terminal")
    space = world([cause("spread", place="terminal"), cause("gear")], [drag])
    before, after = rank(space, []), rank(space, [Witness("drag", "good", "sensor:1")])
    assert after.of("spread", "sensor:1") < 0.1 * before.of("spread", "sensor:1")
    assert after.of("spread", "sensor:2") > before.of("spread", "sensor:2")


def test_answers_that_fit_nothing_raise_what_is_not_listed() -> None:
    """When every cause's own check comes out normal, something not on this list leads, and its line says so."""
    checks = [
        check(f"see-{name}", {name: {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
        for name in ("gear", "spring", "wire")
    ]
    space = three(*checks)
    shares = [rank(space, [Witness(c.id, "good") for c in checks[:n]]).of(NOT_LISTED) for n in range(4)]
    assert shares == sorted(shares)
    assert shares[0] == pytest.approx(0.05, abs=0.01)
    last = lines(rank(space, [Witness(c.id, "good") for c in checks]))[0]
    assert (last.cause, last.title) == (NOT_LISTED, NOT_LISTED_TITLE)
    assert last.share > 0.5


def test_a_good_check_of_one_cause_does_not_accuse_the_unknown_alone() -> None:
    """Clearing one cause raises the other causes and the unknown in the same proportion."""
    space = three(PLAIN)
    before, after = rank(space, []), rank(space, [Witness("tap", "good")])
    assert after.weights[3] / after.weights[1] == pytest.approx(before.weights[3] / before.weights[1])


def test_a_place_is_named_when_it_holds_more_than_half_of_its_cause() -> None:
    """The line of a cause names its place only when one place stands out."""
    drag = check("drag", {"spread": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}}, at="terminal")
    space = world([cause("spread", place="terminal"), cause("gear")], [drag])
    vague = next(s for s in lines(rank(space, [])) if s.cause == "spread")
    clear = lines(rank(space, [Witness("drag", "bad", "bulkhead:5")]))[0]
    assert (vague.place, clear.place) == (None, "bulkhead:5")
    assert clear.title == "Spread (bulkhead:5)"
    assert vague.places == len([s for s in space.suspects if s.cause == "spread"])


@pytest.mark.parametrize(("factor", "named"), [(8.0, None), (12.0, "sensor:1")])
def test_half_of_its_cause_is_where_a_place_begins_to_stand_out(factor: float, named: str | None) -> None:
    """One place among several is named as soon as it holds more than all the others of its cause together, not before."""
    space = world([cause("spread", place="terminal"), cause("gear")], [])
    others = sum(s.cause == "spread" for s in space.suspects) - 1
    assert 8.0 < others < 12.0
    factors = np.array([factor if s.place == "sensor:1" else 1.0 for s in space.suspects])
    assert next(s.place for s in lines(rank(space, [], factors)) if s.cause == "spread") == named


@given(st.lists(st.floats(0.02, 0.98), min_size=2, max_size=5), st.floats(0.02, 0.98))
@MANY
def test_pairs_are_noisy_or_for_checks_of_two_results(bad: list[float], leak: float) -> None:
    """Each cause of a pair on its own, and whatever else there is, may spoil the normal result: the leaky noisy-OR.

    Strengths are drawn at least as great as the leak, as a cause that only adds to it must be.
    """
    chances = [leak + b * (1 - leak) for b in bad]
    table = np.array([chances, [1 - c for c in chances]])
    found = pair_table(table, np.array([leak, 1 - leak]), 1, range(len(bad)))
    for i, j in itertools.product(range(len(bad)), repeat=2):
        assert found[0, i, j] == pytest.approx(1 - (1 - leak) * (1 - bad[i]) * (1 - bad[j]), abs=1e-12)


@MANY
@given(spaces())
def test_chances_of_a_pair_sum_to_one(space: Space) -> None:
    """For every two suspects the chances of a check's results lie between 0 and 1 and sum to one."""
    for entry in space.knowledge.checks.values():
        normal = next(i for i, r in enumerate(entry.results) if r.normal)
        for place in check_places(entry, space.machine)[:2]:
            table = space.table(entry.id, place)
            members = list(range(len(space.suspects) - 1))
            found = pair_table(table, table[:, -1], normal, members)
            assert found.shape == (len(entry.results), len(members), len(members))
            assert found.sum(axis=0) == pytest.approx(np.ones((len(members), len(members))), abs=1e-12)
            assert found.min() >= 0
            assert found == pytest.approx(found.transpose(0, 2, 1), abs=1e-12)


def test_a_cause_that_a_check_does_not_name_adds_nothing_to_a_pair() -> None:
    """Paired with a cause that is as likely as otherwise, a cause keeps its own chances of the normal result."""
    table = np.array([[0.7, 0.2, 0.2], [0.3, 0.8, 0.8]])
    found = pair_table(table, table[:, -1], 1, [0, 1])
    assert found[:, 0, 1] == pytest.approx([0.7, 0.3])


def test_two_causes_that_favour_the_normal_result_do_not_make_it_certain() -> None:
    """Two causes that each give a normal result more often than otherwise leave the other result as likely as one of them does."""
    table = np.array([[0.1, 0.2, 0.4], [0.9, 0.8, 0.6]])
    found = pair_table(table, table[:, -1], 1, [0, 1])
    assert found[:, 0, 1] == pytest.approx([0.1, 0.9])


@MANY
@given(spaces(), st.data())
def test_decibans_are_ten_times_the_log_of_the_ratio(space: Space, data: st.DataObject) -> None:
    """The weight of an answer for a cause is what it does to the cause's odds against causes that the check does not name."""
    entry = data.draw(st.sampled_from(list(space.knowledge.checks.values())))
    w = Witness(entry.id, data.draw(st.sampled_from([r.id for r in entry.results])), None, data.draw(st.sampled_from([1.0, 0.5])))
    index = [r.id for r in entry.results].index(w.result)
    for name in space.knowledge.causes:
        ratio = row(entry, name, USED)[index] / row(entry, OTHERWISE, USED)[index]
        assert 10 ** (decibans(space, w, name) / 10) == pytest.approx(ratio**w.strength)


def test_decibans_for_and_against_are_alike() -> None:
    """When a cause and the others change places, an answer weighs the same with the other sign."""
    there = check("there", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    back = check("back", {"gear": {"bad": "very-unlikely"}, OTHERWISE: {"bad": "likely"}})
    space = three(there, back)
    forth = decibans(space, Witness("there", "bad"), "gear")
    assert forth == pytest.approx(10 * math.log10(0.72 / 0.14))
    assert decibans(space, Witness("back", "bad"), "gear") == pytest.approx(-forth)
    assert decibans(space, Witness("there", "bad"), "spring") == pytest.approx(0.0, abs=1e-9)


def with_word_moved(space: Space, entry: Check, name: str, result: str, word: str) -> Space:
    """The same suspects under knowledge in which one word is another."""
    changed = entry.model_copy(update={"evidence": {**entry.evidence, name: {**entry.evidence[name], result: word}}})
    known = space.knowledge
    checks = [changed if c.id == entry.id else c for c in known.checks.values()]
    return Space(
        knowledge(list(known.causes.values()), checks, known.words), space.machine, space.complaint, space.suspects, space.prior
    )


@MANY
@given(spaces(), st.data())
def test_robustness_is_how_often_the_leader_survives_a_changed_word(space: Space, data: st.DataObject) -> None:
    """Every word of the checks that were answered is changed in the knowledge itself, and the ranking made anew."""
    answers = [w for w in data.draw(witnesses(space)) if space.knowledge.checks[w.check].family is None]
    assume(len(space.suspects) <= LEADERS + 1)  # with more, a changed word may change which pairs are considered
    found = rank(space, answers)
    first, second = (lines(found) + lines(found))[:2]
    assume(first.share > second.share + 1e-6 or first.cause == second.cause)
    kept = []
    for name in {w.check for w in answers}:
        entry = space.knowledge.checks[name]
        for cause_name, said in entry.evidence.items():
            for result, word in said.items():
                for step in (-1, 1):
                    at = WORDS.index(word) + step
                    if not 0 <= at < len(WORDS):
                        continue
                    total = sum(USED[x] for r, x in said.items() if r != result) + USED[WORDS[at]]
                    if total < 1:
                        other = rank(with_word_moved(space, entry, cause_name, result, WORDS[at]), answers)
                        kept.append(other.of(first.cause) >= max(s.share for s in lines(other)) - 1e-9)
    assert robustness(found) == pytest.approx(sum(kept) / len(kept) if kept else 1.0)


def test_without_answers_nothing_can_be_off() -> None:
    """A ranking that rests on no answers rests on no word of evidence."""
    assert robustness(rank(three(PLAIN), [])) == 1.0


def test_a_lead_by_a_hair_is_less_robust_than_a_clear_one() -> None:
    """A leader that one word would unseat has a robustness below one, a clear one has all."""
    hair = check("hair", {"gear": {"bad": "likely"}, "spring": {"bad": "likely"}, OTHERWISE: {"bad": "almost-no-chance"}})
    clear = check("clear", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
    narrow = rank(three(hair), [Witness("hair", "bad")], factors=np.array([1.1, 1.0, 1.0, 1.0]))
    assert leading(narrow) == "gear"
    assert robustness(narrow) == pytest.approx(3 / 5)  # gear one word weaker, or spring one word stronger, unseats it
    assert robustness(rank(three(clear), [Witness("clear", "bad")])) == 1.0


def test_a_word_that_would_leave_nothing_for_the_other_results_is_not_tried() -> None:
    """A move that would make a row add up to one before its last result is left out of the count."""
    said = {"bad": "roughly-even", "odd": "unlikely"}  # .51 and .36: one more step up of either is more than one
    entry = check("look", {"gear": said, OTHERWISE: {"bad": "almost-no-chance"}}, ("bad", "odd", "good"))
    space = world([cause("gear"), cause("spring")], [entry])
    answers, factors = [Witness("look", "odd")], np.array([1.05, 1.0, 1.0])
    found = rank(space, answers, factors)
    moves = [("gear", "bad", "unlikely"), ("gear", "odd", "very-unlikely"), (OTHERWISE, "bad", "very-unlikely")]
    others = [rank(with_word_moved(space, entry, *move), answers, factors) for move in moves]
    assert [leading(r) for r in (found, *others)] == ["spring"] * 4
    assert robustness(found) == 1.0  # 'odd' at 'roughly-even' would unseat it, but is no possible row


def test_a_normal_result_rests_on_the_word_for_the_other_result() -> None:
    """A cause that a normal result has put behind another leads again when the word for the bad result is one weaker."""
    entry = check("look", {"gear": {"bad": "very-likely"}, OTHERWISE: {"bad": "very-unlikely"}})
    space = world([cause("gear", frequency="very-common"), cause("spring", frequency="common")], [entry])
    found = rank(space, [Witness("look", "good")])
    weaker = rank(with_word_moved(space, entry, "gear", "bad", "likely"), [Witness("look", "good")])
    assert (leading(found), leading(weaker)) == ("spring", "gear")
    assert robustness(found) == pytest.approx(0.75)  # one of four moves unseats it


def test_chances_of_nothing_are_never_taken_for_certain() -> None:
    """Answers that contradict each other leave a ranking of numbers, not of nothing."""
    entry = check("look", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
    twin = check("again", {"gear": {"bad": "almost-certain"}, OTHERWISE: {"bad": "almost-no-chance"}})
    found = rank(three(entry, twin), [Witness("look", "bad"), Witness("again", "good")])
    assert np.isfinite(found.weights).all()
    assert max(found.weights) < 0.9


def test_words_may_be_worth_other_values() -> None:
    """The ranking takes the values of the words from the knowledge, not from anywhere else."""
    entry = check("look", {"gear": {"bad": "likely"}, OTHERWISE: {"bad": "unlikely"}})
    worth = words({**USED, "likely": 0.6, "unlikely": 0.2})
    found = rank(world([cause("gear"), cause("spring")], [entry], worth), [Witness("look", "bad")])
    assert found.weights[0] / found.weights[1] == pytest.approx(3.0)
